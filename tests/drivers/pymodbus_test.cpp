#include "drivers/driver.hpp"
#include "drivers/register_words.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <fcntl.h>
#include <sys/wait.h>
#include <thread>
#include <unistd.h>

namespace stillmark::drivers {
namespace {

using namespace std::chrono_literals;

/// The pymodbus server beside this file, as a process of its own that ends with its input.
class PymodbusServer {
  public:
    PymodbusServer() {
        std::array<int, 2> to_server{};
        std::array<int, 2> from_server{};
        if (pipe2(to_server.data(), O_CLOEXEC) != 0 || pipe2(from_server.data(), O_CLOEXEC) != 0) return;
        process_ = fork();
        if (process_ == 0) {
            dup2(to_server[0], STDIN_FILENO);
            dup2(from_server[1], STDOUT_FILENO);
            execl("/usr/bin/python3", "python3", STILLMARK_SOURCE_DIR "/tests/drivers/pymodbus_server.py", nullptr);
            _exit(127);
        }
        close(to_server[0]);
        close(from_server[1]);
        input_ = to_server[1];
        if (FILE* said = fdopen(from_server[0], "r")) {
            if (std::fscanf(said, "%d", &port_) != 1) port_ = 0;
            std::fclose(said);
        }
    }
    ~PymodbusServer() {
        close(input_);
        waitpid(process_, nullptr, 0);
    }
    PymodbusServer(const PymodbusServer&) = delete;
    PymodbusServer& operator=(const PymodbusServer&) = delete;

    int port() const { return port_; }

  private:
    pid_t process_ = -1;
    int input_ = -1;
    int port_ = 0;
};

class AgainstPymodbus : public testing::Test {
  protected:
    static void SetUpTestSuite() { server_ = std::make_unique<PymodbusServer>(); }
    static void TearDownTestSuite() { server_.reset(); }

    void SetUp() override {
        ASSERT_GT(server_->port(), 0) << "the server did not start";
        link = protocols::make_modbus_tcp_link({"127.0.0.1", server_->port()});
        // It prints its port a moment before it listens there.
        for (int tries = 0; tries < 50; ++tries) {
            const auto reply = link->read({5, protocols::RegisterKind::holding, 0, 1}, 500ms);
            if (reply.has_value() || reply.error().fault != protocols::Fault::link_down) return;
            std::this_thread::sleep_for(100ms);
        }
        FAIL() << "the server does not answer";
    }

    std::unique_ptr<protocols::ModbusLink> link;

  private:
    static std::unique_ptr<PymodbusServer> server_;
};
std::unique_ptr<PymodbusServer> AgainstPymodbus::server_;

TEST_F(AgainstPymodbus, EveryNumberTypeInEveryOrderOverBothFunctions) {
    const std::array<double, 8> values{-12345,
                                       54321,
                                       -123456789,
                                       3456789012.0,
                                       -1234567890123456789.0,
                                       12345678901234567890.0,
                                       static_cast<double>(123.456F),
                                       -1013.25};
    for (const auto kind : {protocols::RegisterKind::holding, protocols::RegisterKind::input}) {
        for (int order = 0; order < 4; ++order) {
            for (int type = 0; type < 8; ++type) {
                ModbusReading how;
                how.kind = kind;
                how.address = static_cast<std::uint16_t>(4 * (8 * order + type));
                how.type = static_cast<NumberType>(type);
                how.order = static_cast<ByteOrder>(order);
                // Counts of a picopascal keep the greatest 64-bit number below any limit of pressure.
                Profile profile;
                profile.unit = {"pPa", 1e-12};
                profile.deadline = 1000ms;
                profile.how = how;
                const auto reading = make_modbus_driver(profile, *link, 5)->read();
                EXPECT_EQ(reading.status, ReadingStatus::good) << reading.detail;
                EXPECT_DOUBLE_EQ(reading.value_pa, values.at(static_cast<std::size_t>(type)) * 1e-12)
                    << "type " << type << ", order " << order;
            }
        }
    }
}

TEST_F(AgainstPymodbus, ARegisterThatItDoesNotServeIsUnsupported) {
    const auto reply = link->read({5, protocols::RegisterKind::holding, 300, 1}, 1000ms);
    ASSERT_TRUE(reply.has_error());
    EXPECT_EQ(reply.error().fault, protocols::Fault::unsupported) << reply.error().detail;
}

TEST_F(AgainstPymodbus, TheMostRegistersOfOneRequest) {
    const auto reply = link->read({5, protocols::RegisterKind::input, 0, 125}, 1000ms);
    ASSERT_TRUE(reply.has_value()) << reply.error().detail;
    EXPECT_EQ(reply->registers.size(), 125U);
    EXPECT_EQ(reply->registers[0], static_cast<std::uint16_t>(-12345));
}

} // namespace
} // namespace stillmark::drivers
