#include "server/wire/identity.h"

#include "server/log/hash.h"
#include "tests/support/temporary.h"

#include <gtest/gtest.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509.h>

#include <array>
#include <filesystem>
#include <memory>
#include <string>

namespace fieldpeg::wire {
namespace {

using std::filesystem::perms;
using testing::read_file;
using testing::TemporaryFolder;
using testing::write_file;

void set_mode(const std::string& path, perms mode) {
    std::filesystem::permissions(path, mode);
}

std::string write_private(const std::string& path, const std::string& text) {
    write_file(path, text);
    set_mode(path, perms::owner_read | perms::owner_write);
    return path;
}

using Certificate = std::unique_ptr<X509, decltype(&X509_free)>;

Certificate certificate_of(const Identity& identity) {
    const std::unique_ptr<BIO, decltype(&BIO_free)> text(
        BIO_new_mem_buf(identity.certificate_pem.data(),
                        static_cast<int>(identity.certificate_pem.size())),
        &BIO_free);
    return {PEM_read_bio_X509(text.get(), nullptr, nullptr, nullptr), &X509_free};
}

TEST(Identity, IsMadeWhenThereIsNoneForItsOwnerOnly) {
    const TemporaryFolder folder;
    const auto identity = identity_at(folder.at("identity.pem"));
    ASSERT_TRUE(identity) << identity.error().why;
    EXPECT_EQ(std::filesystem::status(folder.at("identity.pem")).permissions(),
              perms::owner_read | perms::owner_write);
    EXPECT_EQ(identity->fingerprint.size(), 32U);
}

TEST(Identity, IsTheSameWhenReadBack) {
    const TemporaryFolder folder;
    const auto made = identity_at(folder.at("identity.pem"));
    const auto again = identity_at(folder.at("identity.pem"));
    ASSERT_TRUE(made && again);
    EXPECT_EQ(made->fingerprint, again->fingerprint);
    EXPECT_EQ(made->certificate_pem, again->certificate_pem);
    EXPECT_EQ(made->key_pem, again->key_pem);
}

TEST(Identity, IsAnotherEachTimeItIsMade) {
    const TemporaryFolder folder;
    EXPECT_NE(identity_at(folder.at("a.pem"))->fingerprint,
              identity_at(folder.at("b.pem"))->fingerprint);
}

TEST(Identity, HasTheHashOfItsCertificateAsFingerprint) {
    const TemporaryFolder folder;
    const auto identity = identity_at(folder.at("identity.pem"));
    const auto certificate = certificate_of(*identity);
    ASSERT_TRUE(certificate);
    std::string der(static_cast<std::size_t>(i2d_X509(certificate.get(), nullptr)), '\0');
    auto* at = reinterpret_cast<unsigned char*>(der.data());
    i2d_X509(certificate.get(), &at);
    EXPECT_EQ(identity->fingerprint, log::sha256(der));
}

TEST(Identity, IsSelfMadeWithAKeyOnP256AndGoodToday) {
    const TemporaryFolder folder;
    const auto identity = identity_at(folder.at("identity.pem"));
    const auto certificate = certificate_of(*identity);
    ASSERT_TRUE(certificate);
    auto* key = X509_get0_pubkey(certificate.get());
    EXPECT_EQ(X509_verify(certificate.get(), key), 1);
    std::array<char, 40> group{};
    ASSERT_EQ(EVP_PKEY_get_group_name(key, group.data(), group.size(), nullptr), 1);
    EXPECT_STREQ(group.data(), "prime256v1");
    EXPECT_LT(X509_cmp_current_time(X509_get0_notBefore(certificate.get())), 0);
    EXPECT_GT(X509_cmp_current_time(X509_get0_notAfter(certificate.get())), 0);
}

TEST(Identity, ThatOthersMayReadIsRefused) {
    const TemporaryFolder folder;
    const auto path = folder.at("identity.pem");
    ASSERT_TRUE(identity_at(path));
    for (const auto more : {perms::others_read, perms::group_read, perms::group_write}) {
        set_mode(path, perms::owner_read | perms::owner_write | more);
        const auto identity = identity_at(path);
        ASSERT_FALSE(identity);
        EXPECT_NE(identity.error().next.find("600"), std::string::npos);
    }
    set_mode(path, perms::owner_read | perms::owner_write);
    EXPECT_TRUE(identity_at(path));
}

TEST(Identity, ThatIsGarbageIsRefusedAndLeftAlone) {
    const TemporaryFolder folder;
    for (const auto& text :
         {std::string(), std::string("hello"), std::string(1000, '\0'),
          std::string("-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n")}) {
        const auto path = write_private(folder.at("identity.pem"), text);
        EXPECT_FALSE(identity_at(path)) << text;
        EXPECT_EQ(read_file(path), text);
    }
}

TEST(Identity, OfWhichAPartIsMissingIsRefused) {
    const TemporaryFolder folder;
    const auto identity = identity_at(folder.at("identity.pem"));
    EXPECT_FALSE(identity_at(write_private(folder.at("a.pem"), identity->certificate_pem)));
    EXPECT_FALSE(identity_at(write_private(folder.at("b.pem"), identity->key_pem)));
    const auto whole = identity->certificate_pem + identity->key_pem;
    EXPECT_FALSE(identity_at(write_private(folder.at("c.pem"), whole.substr(0, whole.size() / 2))));
    EXPECT_TRUE(identity_at(write_private(folder.at("d.pem"), whole)));
}

TEST(Identity, WhoseKeyIsAnothersIsRefused) {
    const TemporaryFolder folder;
    const auto one = identity_at(folder.at("one.pem"));
    const auto two = identity_at(folder.at("two.pem"));
    EXPECT_FALSE(
        identity_at(write_private(folder.at("mixed.pem"), one->certificate_pem + two->key_pem)));
}

TEST(Identity, IsMadeAnewInThePlaceOfAnother) {
    const TemporaryFolder folder;
    const auto path = folder.at("identity.pem");
    const auto before = identity_at(path);
    const auto made = new_identity_at(path);
    ASSERT_TRUE(before && made);
    EXPECT_NE(made->fingerprint, before->fingerprint);
    EXPECT_EQ(identity_at(path)->fingerprint, made->fingerprint);
    EXPECT_TRUE(new_identity_at(folder.at("another.pem")));
}

// Whoever was killed while writing one: the next has a whole one.
TEST(Identity, TakesNoHarmFromHalfAFileBesideIt) {
    const TemporaryFolder folder;
    write_private(folder.at("identity.pem.new"), "-----BEGIN CERTI");
    EXPECT_TRUE(identity_at(folder.at("identity.pem")));
    EXPECT_TRUE(identity_at(folder.at("identity.pem")));
    EXPECT_FALSE(std::filesystem::exists(folder.at("identity.pem.new")));
}

TEST(Identity, InAFolderThatIsNotThereIsRefused) {
    const TemporaryFolder folder;
    EXPECT_FALSE(identity_at(folder.at("nowhere/identity.pem")));
}

}  // namespace
}  // namespace fieldpeg::wire
