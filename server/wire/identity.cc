#include "server/wire/identity.h"

#include "server/service/private_file.h"

#include <fmt/format.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rand.h>
#include <openssl/x509.h>
#include <openssl/x509v3.h>

#include <filesystem>
#include <memory>
#include <stdexcept>

namespace fieldpeg::wire {
namespace {

namespace ssl = boost::asio::ssl;

template <class T, void (*release)(T*)>
struct Release {
    void operator()(T* held) const { release(held); }
};
void free_bio(BIO* bio) {
    BIO_free(bio);
}
using Key = std::unique_ptr<EVP_PKEY, Release<EVP_PKEY, EVP_PKEY_free>>;
using Certificate = std::unique_ptr<X509, Release<X509, X509_free>>;
using Bio = std::unique_ptr<BIO, Release<BIO, free_bio>>;

/// A flying day is short, a club's laptop keeps its identity for years.
constexpr long valid_seconds = 20L * 365 * 24 * 3600;

void must(bool good, const char* what) {
    if (!good)
        throw std::runtime_error(fmt::format("the cryptographic library could not {}", what));
}

std::string text_of(BIO* bio) {
    char* data = nullptr;
    const auto size = BIO_get_mem_data(bio, &data);
    return {data, static_cast<std::size_t>(size)};
}

std::string fingerprint_of(X509* certificate) {
    std::string digest(EVP_MAX_MD_SIZE, '\0');
    unsigned size = 0;
    must(X509_digest(certificate, EVP_sha256(), reinterpret_cast<unsigned char*>(digest.data()),
                     &size) == 1,
         "take a certificate's fingerprint");
    digest.resize(size);
    return digest;
}

Identity written_out(X509* certificate, EVP_PKEY* key) {
    const Bio certificate_text(BIO_new(BIO_s_mem())), key_text(BIO_new(BIO_s_mem()));
    must(PEM_write_bio_X509(certificate_text.get(), certificate) == 1, "write a certificate");
    must(PEM_write_bio_PrivateKey(key_text.get(), key, nullptr, nullptr, 0, nullptr, nullptr) == 1,
         "write a key");
    return {text_of(certificate_text.get()), text_of(key_text.get()), fingerprint_of(certificate)};
}

Identity made() {
    const Key key(EVP_EC_gen("P-256"));
    must(key != nullptr, "make a key");
    const Certificate certificate(X509_new());
    must(certificate != nullptr, "make a certificate");
    X509_set_version(certificate.get(), X509_VERSION_3);
    std::uint64_t serial = 0;
    must(RAND_bytes(reinterpret_cast<unsigned char*>(&serial), sizeof serial) == 1,
         "make a serial number");
    ASN1_INTEGER_set_uint64(X509_get_serialNumber(certificate.get()), serial >> 1);
    X509_gmtime_adj(X509_getm_notBefore(certificate.get()),
                    -24L * 3600);  // clocks in the field are wrong
    X509_gmtime_adj(X509_getm_notAfter(certificate.get()), valid_seconds);
    X509_set_pubkey(certificate.get(), key.get());
    auto* name = X509_get_subject_name(certificate.get());
    X509_NAME_add_entry_by_txt(name, "CN", MBSTRING_ASC,
                               reinterpret_cast<const unsigned char*>("fieldpeg"), -1, -1, 0);
    X509_set_issuer_name(certificate.get(), name);
    must(X509_sign(certificate.get(), key.get(), EVP_sha256()) > 0, "sign a certificate");
    return written_out(certificate.get(), key.get());
}

Result<Identity> read(const std::string& path, const std::string& text) {
    const auto no_identity = [&](const char* what) {
        return Refusal{Refusal::Kind::malformed, path, fmt::format("holds no {}", what),
                       "move it away to have a new one made; tickets must then be given out anew"};
    };
    const Bio certificate_text(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
    const Certificate certificate(
        PEM_read_bio_X509(certificate_text.get(), nullptr, nullptr, nullptr));
    if (!certificate) return no_identity("certificate");
    const Bio key_text(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
    const Key key(PEM_read_bio_PrivateKey(key_text.get(), nullptr, nullptr, nullptr));
    if (!key) return no_identity("key");
    if (X509_check_private_key(certificate.get(), key.get()) != 1)
        return no_identity("key of its certificate");
    return written_out(certificate.get(), key.get());
}

Result<Identity> made_at(const std::string& path, service::Existing existing) {
    auto identity = made();
    const auto written =
        service::write_private(path, identity.certificate_pem + identity.key_pem, existing);
    if (!written) return written.error();
    return identity;
}

}  // namespace

Result<Identity> new_identity_at(const std::string& path) {
    return made_at(path, service::Existing::goes);
}

Result<Identity> identity_at(const std::string& path) {
    if (!std::filesystem::exists(path)) return made_at(path, service::Existing::stays);
    const auto text = service::read_private(path);
    if (!text) return text.error();
    return read(path, *text);
}

ssl::context server_context(const Identity& identity) {
    ssl::context context(ssl::context::tls_server);
    must(SSL_CTX_set_min_proto_version(context.native_handle(), TLS1_3_VERSION) == 1,
         "ask for TLS 1.3");
    context.use_certificate_chain(boost::asio::buffer(identity.certificate_pem));
    context.use_private_key(boost::asio::buffer(identity.key_pem), ssl::context::pem);
    // No tickets for resumption: a connection lasts all day, and each would cost a write.
    SSL_CTX_set_num_tickets(context.native_handle(), 0);
    return context;
}

ssl::context client_context() {
    ssl::context context(ssl::context::tls_client);
    must(SSL_CTX_set_min_proto_version(context.native_handle(), TLS1_3_VERSION) == 1,
         "ask for TLS 1.3");
    // The certificate is self-made: what counts is its fingerprint, held against the ticket's
    // right after the handshake (link::Remote).
    context.set_verify_mode(ssl::verify_none);
    return context;
}

std::string peer_fingerprint(SSL* connection) {
    const Certificate certificate(SSL_get1_peer_certificate(connection));
    return certificate ? fingerprint_of(certificate.get()) : "";
}

}  // namespace fieldpeg::wire
