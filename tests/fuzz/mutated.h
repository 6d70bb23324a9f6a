#pragma once

#include <google/protobuf/message.h>

#include <cstddef>
#include <cstdint>

/// How a fuzzer changes messages: bytes at random are hardly ever one.
namespace fieldpeg::fuzz {

/// Changes a few fields, wherever they are nested: sets, adds, takes away, repeats, with values
/// that are usual, at a bound or absurd. The same seed does the same.
void mutate(google::protobuf::Message& message, unsigned seed);

/// For LLVMFuzzerCustomMutator: puts a changed message into the place of the bytes from which it
/// was read, or, now and then, changes the bytes themselves. Gives their new size.
std::size_t mutated(google::protobuf::Message& message, std::uint8_t* data, std::size_t size,
                    std::size_t most, unsigned seed);

}  // namespace fieldpeg::fuzz
