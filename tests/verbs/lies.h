#pragma once

#include "fieldpeg/v1/wire.pb.h"

#include <google/protobuf/message.h>

#include <cstdint>
#include <random>
#include <string>
#include <vector>

namespace fieldpeg::testing {

/// Answers as no server of ours makes them: the right kind, and in it anything.
class Lies {
public:
    explicit Lies(std::uint64_t seed) : random_(seed) {}

    std::vector<std::string> texts = {"Ann"};
    std::vector<double> numbers = {0, 1, -1, 5658, 25};
    std::vector<std::int64_t> times_ms = {0, 1'790'000'000'000};

    /// What would answer a request, by its kind, with nothing in it.
    static v1::Response empty(const v1::Request& request);
    /// The same filled with what is to be had.
    v1::Response about(const v1::Request& request);
    /// A text, a number or a list of them for every field; of several kinds, one.
    void fill(google::protobuf::Message& message, int deep = 0);

private:
    template <class List>
    const auto& one_of(const List& list) {
        return list[random_() % list.size()];
    }
    void put(google::protobuf::Message& message, const google::protobuf::FieldDescriptor& field,
             int deep);

    std::mt19937_64 random_;
};

}  // namespace fieldpeg::testing
