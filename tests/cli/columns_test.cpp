#include "daemon/cli/columns.hpp"

#include <gtest/gtest.h>

using namespace stillmark::cli;

TEST(Columns, CountsCodePoints) {
    EXPECT_EQ(width("bar"), 3U);
    EXPECT_EQ(width("Prüfstand"), 9U);
    EXPECT_EQ(fill("Prüf", 6), "Prüf  ");
    EXPECT_EQ(cut("Prüfstand sieben", 8), "Prüfs...");
    EXPECT_EQ(cut("Prüfstand", 4), "Prüf");
    EXPECT_EQ(cut("", 0), "");
}

TEST(Columns, MakesEverythingPrintable) {
    EXPECT_EQ(printable("a\033[2Jb\n"), "a?[2Jb?");
    EXPECT_EQ(printable("\xC2\x9B"), "?");
    EXPECT_EQ(printable("\xFF\xC3"), "??");
    EXPECT_EQ(printable("23 °C"), "23 °C");
}

TEST(Columns, WrapsAtSpacesAndCutsAWordThatIsTooLong) {
    EXPECT_EQ(wrap("one two three", 8), (std::vector<std::string>{"one two", "three"}));
    EXPECT_EQ(wrap("one two three", 8, 2), (std::vector<std::string>{"one two", "  three"}));
    EXPECT_EQ(wrap("abcdefghijkl", 8), (std::vector<std::string>{"abcde..."}));
    EXPECT_EQ(wrap("", 8), (std::vector<std::string>{""}));
}

TEST(Columns, ATableGivesUpItsLeastImportantColumnsFirst) {
    Table table;
    table.add_column("name");
    table.add_column("value", Table::Align::right, 1);
    table.add_column("remark", Table::Align::left, 2);
    table.add_row({"A", "1.25", "none"});
    EXPECT_EQ(table.lines(40), (std::vector<std::string>{"name  value  remark", "A      1.25  none"}));
    EXPECT_EQ(table.lines(18), (std::vector<std::string>{"name  value", "A      1.25"}));
    EXPECT_EQ(table.lines(5), (std::vector<std::string>{"name", "A"}));
}

TEST(Columns, ANameCutInTheMiddleKeepsItsEnds) {
    EXPECT_EQ(cut_in_the_middle("transmitter number 7", 12), "trans..ber 7");
    EXPECT_EQ(cut_in_the_middle("transmitter A", 13), "transmitter A");
    EXPECT_EQ(cut_in_the_middle("Prüfüberdruck", 8), "Prü..uck");
}
