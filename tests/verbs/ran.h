#pragma once

#include "client/verbs/program.h"

#include <gtest/gtest.h>
#include <spdlog/spdlog.h>

#include <cstdio>
#include <exception>
#include <iostream>
#include <string>
#include <vector>

namespace fieldpeg::testing {

struct Outcome {
    int status = -1;
    std::string out, err;
};

/// The program, in this process, with `input` to read.
inline Outcome ran(const std::vector<std::string>& arguments,
                   const std::string& input = "/dev/null") {
    EXPECT_NE(std::freopen(input.c_str(), "r", stdin), nullptr);
    std::cin.clear();
    std::vector<std::string> all = {"fieldpeg"};
    all.insert(all.end(), arguments.begin(), arguments.end());
    std::vector<char*> argv;
    for (auto& one : all) argv.push_back(one.data());
    spdlog::drop_all();
    ::testing::internal::CaptureStdout();
    ::testing::internal::CaptureStderr();
    Outcome outcome;
    std::string thrown;
    try {
        outcome.status = verbs::run(static_cast<int>(argv.size()), argv.data());
    } catch (const std::exception& error) {
        thrown = error.what();
    }
    outcome.out = ::testing::internal::GetCapturedStdout();
    outcome.err = ::testing::internal::GetCapturedStderr();
    EXPECT_EQ(thrown, "") << "nothing that a server says is to end in an exception";
    return outcome;
}

}  // namespace fieldpeg::testing
