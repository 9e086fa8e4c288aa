#include "daemon/cli/observation_table.hpp"

#include <gtest/gtest.h>

#include <cmath>

namespace stillmark::cli {
namespace {

TEST(ObservationTable, DegreesOfFreedomOfBothUncertainties) {
    const auto table = read_observations("t.csv", "series,direction,reference,reading,u_reference,u_reading,"
                                                  "dof_reference,dof_reading\n"
                                                  "1,up,0,0,0.1,0.2,8.5,3\n"
                                                  "1,up,5,5,0.1,0.2,,infinite\n");
    ASSERT_EQ(table.rows.size(), 2U);
    EXPECT_TRUE(table.objections.empty());
    EXPECT_EQ(table.rows[0].dof_reference, 8.5);
    EXPECT_EQ(table.rows[0].dof_mean, 3);
    EXPECT_TRUE(std::isinf(table.rows[1].dof_reference));
    EXPECT_TRUE(std::isinf(table.rows[1].dof_mean));
}

TEST(ObservationTable, WhatAreNoDegreesOfFreedomIsLeftOut) {
    const auto table = read_observations("t.csv", "series,direction,reference,reading,u_reading,dof_reading\n"
                                                  "1,up,0,0,0.1,0\n"
                                                  "1,up,5,5,,4\n");
    ASSERT_EQ(table.objections.size(), 2U);
    EXPECT_NE(table.objections[0].find("are no degrees of freedom"), std::string::npos) << table.objections[0];
    EXPECT_NE(table.objections[1].find("there is no u_reading"), std::string::npos) << table.objections[1];
    EXPECT_NE(table.rows[0].left_out, "");
}

} // namespace
} // namespace stillmark::cli
