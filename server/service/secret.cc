#include "server/service/secret.h"

#include <openssl/rand.h>

#include <stdexcept>

namespace fieldpeg::service {

std::string random_bytes(std::size_t count) {
    std::string bytes(count, '\0');
    if (RAND_bytes(reinterpret_cast<unsigned char*>(bytes.data()), static_cast<int>(count)) != 1)
        throw std::runtime_error("no random numbers are to be had from the cryptographic library");
    return bytes;
}

}  // namespace fieldpeg::service
