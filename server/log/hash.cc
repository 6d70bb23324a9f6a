#include "server/log/hash.h"

#include <openssl/evp.h>

#include <fmt/format.h>

#include <stdexcept>

namespace fieldpeg::log {

std::string sha256(std::string_view bytes) {
    std::string digest(EVP_MAX_MD_SIZE, '\0');
    unsigned size = 0;
    if (EVP_Digest(bytes.data(), bytes.size(), reinterpret_cast<unsigned char*>(digest.data()),
                   &size, EVP_sha256(), nullptr) != 1)
        throw std::runtime_error("SHA-256 is not to be had from the cryptographic library");
    digest.resize(size);
    return digest;
}

std::string hex(std::string_view bytes) {
    std::string text;
    for (const char c : bytes) text += fmt::format("{:02x}", static_cast<unsigned char>(c));
    return text;
}

std::string chained(const std::string& before, const std::string& record) {
    return sha256(before + record);
}

std::string no_hash() {
    constexpr std::size_t sha256_bytes = 32;
    return std::string(sha256_bytes, '\0');
}

}  // namespace fieldpeg::log
