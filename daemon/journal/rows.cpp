#include "daemon/journal/rows.hpp"

#include <fmt/format.h>

namespace stillmark::journal {

JournalResult<RowsInOrder> RowsInOrder::of(const Database& database, const Tables& tables, std::int64_t first,
                                           std::int64_t last) {
    const std::string_view tag = tables.tagged ? ", tag" : "";
    auto events = database.prepare(fmt::format(
        "SELECT number, at_us, body{} FROM {} WHERE number BETWEEN ? AND ? ORDER BY number", tag, tables.events));
    if (!events) return events.error();
    auto blocks = database.prepare(fmt::format("SELECT first_number, channel, columns{} FROM {} WHERE first_number "
                                               "BETWEEN ? AND ? ORDER BY first_number",
                                               tag, tables.blocks));
    if (!blocks) return blocks.error();
    for (Statement* statement : {&*events, &*blocks}) {
        statement->bind(1, first);
        statement->bind(2, last);
    }
    RowsInOrder rows({Row::Kind::event, tables.tagged, std::move(*events), {}, false},
                     {Row::Kind::block, tables.tagged, std::move(*blocks), {}, false});
    if (auto done = rows.events_.advance(); !done) return done.error();
    if (auto done = rows.blocks_.advance(); !done) return done.error();
    return {boost::system::in_place_value, std::move(rows)};
}

JournalResult<void> RowsInOrder::Source::advance() {
    const auto found = statement.step();
    if (!found) return found.error();
    more = *found;
    if (!more) return {};
    using Stored = Statement::Stored;
    const Stored content = kind == Row::Kind::event ? Stored::text : Stored::blob;
    row.kind = kind;
    row.is_sound = statement.stored(0) == Stored::integer && statement.stored(1) == Stored::integer &&
                   statement.stored(2) == content && (!tagged || statement.stored(3) == Stored::blob);
    row.number = statement.integer(0);
    row.detail = statement.integer(1);
    row.content = kind == Row::Kind::event ? seal::bytes_of(statement.text(2)) : statement.blob(2);
    row.tag = tagged ? statement.blob(3) : seal::BytesView{};
    return {};
}

RowsInOrder::Source& RowsInOrder::lower() {
    if (!blocks_.more) return events_;
    return events_.more && events_.row.number <= blocks_.row.number ? events_ : blocks_;
}

JournalResult<const Row*> RowsInOrder::peek() {
    const Source& source = lower();
    return source.more ? &source.row : nullptr;
}

JournalResult<void> RowsInOrder::pop() {
    return lower().advance();
}

} // namespace stillmark::journal
