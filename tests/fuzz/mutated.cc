#include "tests/fuzz/mutated.h"

#include <google/protobuf/descriptor.h>
#include <google/protobuf/reflection.h>

#include <cmath>
#include <limits>
#include <random>
#include <string>
#include <vector>

extern "C" std::size_t LLVMFuzzerMutate(std::uint8_t* data, std::size_t size, std::size_t most);

namespace fieldpeg::fuzz {
namespace {

using google::protobuf::FieldDescriptor;
using google::protobuf::Message;
using Random = std::minstd_rand;

template <class T, std::size_t count>
T one_of(const T (&all)[count], Random& random) {
    return all[random() % count];
}

bool happens(Random& random, unsigned in) {
    return random() % in == 0;
}

double number(Random& random) {
    static constexpr double all[] = {0,
                                     -0.0,
                                     1,
                                     -1,
                                     0.5,
                                     14,
                                     25,
                                     27.8,
                                     50,
                                     -60,
                                     -100,
                                     100,
                                     180,
                                     1280,
                                     2440,
                                     5658,
                                     5695,
                                     5732,
                                     5769,
                                     5806,
                                     5800.5,
                                     1e4,
                                     1e5,
                                     -1e5,
                                     1e9,
                                     -1e9,
                                     1e12,
                                     1e-12,
                                     1e18,
                                     1e300,
                                     -1e300,
                                     std::numeric_limits<double>::denorm_min(),
                                     std::numeric_limits<double>::infinity(),
                                     -std::numeric_limits<double>::infinity(),
                                     std::numeric_limits<double>::quiet_NaN()};
    return one_of(all, random);
}

std::int64_t whole(Random& random) {
    static constexpr std::int64_t all[] = {0,
                                           1,
                                           2,
                                           3,
                                           4,
                                           5,
                                           7,
                                           8,
                                           10,
                                           40,
                                           100,
                                           1000,
                                           -1,
                                           60'000,
                                           1'800'000'000'000,
                                           1'800'000'060'000,
                                           253'402'300'799'999,
                                           253'402'300'800'000,
                                           1LL << 31,
                                           1LL << 32,
                                           (1LL << 31) - 1,
                                           std::numeric_limits<std::int64_t>::max(),
                                           std::numeric_limits<std::int64_t>::min()};
    return one_of(all, random);
}

/// UTF-8, or the whole message would not be read.
std::string text(Random& random) {
    static constexpr const char* all[] = {
        "",
        "Ann",
        "Bob",
        "Dee",
        "mast",
        "the server",
        "line-1",
        "circuit",
        "R1",
        "R5",
        "5800",
        "video",
        "held",
        "on_air",
        "off_air",
        "warning",
        "claimed",
        "sighting",
        "fm-video",
        "dipole",
        "<b>&amp;\"",
        "a\nb",
        "\x1b[31m",
        "\xe2\x80\xae",
        "\xc2\x9b",
        "\xcc\x81",
        "A: b, c",
        "2026-09-19",
        "[[pilot]]\nname = \"Cem\"\nplace = \"line-1\"\narea = \"circuit\"\nkit = \"whoop\"\n"};
    if (!happens(random, 10)) return one_of(all, random);
    return std::string(random() % 500, happens(random, 2) ? ' ' : 'x');
}

class Mutation {
public:
    explicit Mutation(Random& random) : random_(random) {}

    /// Somewhere in it; deeper more often than not.
    void change(Message& message) {  // NOLINT(misc-no-recursion): as deep as it is nested
        const auto* about = message.GetDescriptor();
        if (about->field_count() == 0) return;
        const auto* access = message.GetReflection();
        std::vector<const FieldDescriptor*> there;
        access->ListFields(message, &there);
        std::erase_if(there, [](const auto* field) {
            return field->cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE;
        });
        if (!there.empty() && !happens(random_, 4)) {
            const auto& field = *there[random_() % there.size()];
            if (!field.is_repeated()) return change(*access->MutableMessage(&message, &field));
            const auto count = static_cast<unsigned>(access->FieldSize(message, &field));
            if (!happens(random_, 4))
                return change(*access->MutableRepeatedMessage(&message, &field,
                                                              static_cast<int>(random_() % count)));
            return repeated(message, field);
        }
        const auto& field = *about->field(
            static_cast<int>(random_() % static_cast<unsigned>(about->field_count())));
        if (field.is_repeated()) return repeated(message, field);
        if (access->HasField(message, &field) && happens(random_, 3))
            return access->ClearField(&message, &field);
        single(message, field);
    }

private:
    void repeated(Message& message, const FieldDescriptor& field) {
        const auto* access = message.GetReflection();
        const int count = access->FieldSize(message, &field);
        if (count > 0 && happens(random_, 3)) return access->RemoveLast(&message, &field);
        if (count > 1 && happens(random_, 3))
            return access->SwapElements(&message, &field, 0, count - 1);
        if (field.cpp_type() != FieldDescriptor::CPPTYPE_MESSAGE) return add(message, field);
        auto& one = *access->AddMessage(&message, &field);
        if (count > 0) one.CopyFrom(access->GetRepeatedMessage(message, &field, 0));
        change(one);
    }

    void single(Message& message, const FieldDescriptor& field) {
        const auto* access = message.GetReflection();
        switch (field.cpp_type()) {
            case FieldDescriptor::CPPTYPE_MESSAGE:
                return change(*access->MutableMessage(&message, &field));
            case FieldDescriptor::CPPTYPE_DOUBLE:
                return access->SetDouble(&message, &field, number(random_));
            case FieldDescriptor::CPPTYPE_FLOAT:
                return access->SetFloat(&message, &field, as_float());
            case FieldDescriptor::CPPTYPE_INT32:
                return access->SetInt32(&message, &field, static_cast<int>(whole(random_)));
            case FieldDescriptor::CPPTYPE_UINT32:
                return access->SetUInt32(&message, &field,
                                         static_cast<std::uint32_t>(whole(random_)));
            case FieldDescriptor::CPPTYPE_INT64:
                return access->SetInt64(&message, &field, whole(random_));
            case FieldDescriptor::CPPTYPE_UINT64:
                return access->SetUInt64(&message, &field,
                                         static_cast<std::uint64_t>(whole(random_)));
            case FieldDescriptor::CPPTYPE_BOOL:
                return access->SetBool(&message, &field, happens(random_, 2));
            case FieldDescriptor::CPPTYPE_ENUM:
                return access->SetEnumValue(&message, &field, kind());
            case FieldDescriptor::CPPTYPE_STRING:
                return access->SetString(&message, &field, text(random_));
        }
    }

    void add(Message& message, const FieldDescriptor& field) {
        const auto* access = message.GetReflection();
        switch (field.cpp_type()) {
            case FieldDescriptor::CPPTYPE_DOUBLE:
                return access->AddDouble(&message, &field, number(random_));
            case FieldDescriptor::CPPTYPE_FLOAT:
                return access->AddFloat(&message, &field, as_float());
            case FieldDescriptor::CPPTYPE_UINT32:
                return access->AddUInt32(&message, &field,
                                         static_cast<std::uint32_t>(whole(random_)));
            case FieldDescriptor::CPPTYPE_UINT64:
                return access->AddUInt64(&message, &field,
                                         static_cast<std::uint64_t>(whole(random_)));
            case FieldDescriptor::CPPTYPE_ENUM:
                return access->AddEnumValue(&message, &field, kind());
            case FieldDescriptor::CPPTYPE_STRING:
                return access->AddString(&message, &field, text(random_));
            default:
                return;  // the vocabulary repeats nothing else
        }
    }

    int kind() { return static_cast<int>(happens(random_, 8) ? 1000 : random_() % 12); }

    float as_float() {
        const double value = number(random_);
        return std::abs(value) > std::numeric_limits<float>::max() && std::isfinite(value)
                   ? std::numeric_limits<float>::max()
                   : static_cast<float>(value);
    }

    Random& random_;
};

}  // namespace

void mutate(Message& message, unsigned seed) {
    Random random(seed);
    Mutation mutation(random);
    for (auto count = 1 + random() % 4; count > 0; --count) mutation.change(message);
}

std::size_t mutated(Message& message, std::uint8_t* data, std::size_t size, std::size_t most,
                    unsigned seed) {
    if (seed % 8 == 0) return LLVMFuzzerMutate(data, size, most);
    mutate(message, seed);
    const auto bytes = message.ByteSizeLong();
    if (bytes > most) return LLVMFuzzerMutate(data, size, most);
    message.SerializeToArray(data, static_cast<int>(bytes));
    return bytes;
}

}  // namespace fieldpeg::fuzz
