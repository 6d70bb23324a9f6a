#include "tests/database/log_form.h"

#include "server/log/hash.h"
#include "tests/support/cluster.h"

namespace fieldpeg::testing {

PostgresForm::PostgresForm() : address_(Cluster::shared().new_database()) {}

void PostgresForm::tamper(const std::string& sql) {
    Cluster::shared().run(address_, "SET search_path TO fieldpeg; " + sql);
}

std::string PostgresForm::literal(std::string_view bytes) const {
    return "decode('" + log::hex(bytes) + "', 'hex')";
}

INSTANTIATE_TEST_SUITE_P(Database, EveryLog, ::testing::Values([]() -> std::unique_ptr<LogForm> {
                             return std::make_unique<PostgresForm>();
                         }));

}  // namespace fieldpeg::testing
