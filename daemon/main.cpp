#include "daemon/decider/buses.hpp"
#include "daemon/decider/decider.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/decider/recovery.hpp"
#include "daemon/decider/service_facts.hpp"
#include "daemon/gateway/certificate_office.hpp"
#include "daemon/gateway/http_server.hpp"
#include "daemon/gateway/local_socket.hpp"
#include "daemon/gateway/requests.hpp"
#include "daemon/records/local_time.hpp"

#include <CLI/CLI.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <csignal>
#include <cstdio>
#include <filesystem>
#include <sys/resource.h>
#include <unistd.h>

using namespace stillmark;

namespace {

/// The exit codes of every program of the house; the man pages list them.
enum Exit { done = 0, no = 1, wrong_use = 2, unreachable = 3, internal = 4 };

struct Options {
    std::string bench;
    std::string journal;
    std::string key;
    std::string records;
    std::string socket;
    std::string profiles;
    bool check = false;
    bool end_run = false;
    gateway::HttpOptions http;
};

/// journald reads a priority in angle brackets before the line; a terminal gets the time instead.
void set_up_log() {
    auto logger = spdlog::stderr_logger_mt("stillmarkd");
    spdlog::set_default_logger(logger);
    const bool to_journald = std::getenv("JOURNAL_STREAM") != nullptr;
    spdlog::set_pattern(to_journald ? "%v" : "%H:%M:%S.%e %l %v");
}

void log(bool bad, const std::string& words) {
    if (std::getenv("JOURNAL_STREAM") != nullptr)
        spdlog::info("{}{}", bad ? "<4>" : "<6>", words);
    else if (bad)
        spdlog::warn(words);
    else
        spdlog::info(words);
}

int refuse(const std::string& words) {
    (void)std::fprintf(stderr, "stillmarkd: %s\n", words.c_str());
    return wrong_use;
}

/// Sockets of clients live above the descriptors that the buses need, so there must be room there.
void allow_many_descriptors() {
    rlimit limit{};
    if (::getrlimit(RLIMIT_NOFILE, &limit) != 0) return;
    limit.rlim_cur = std::min<rlim_t>(limit.rlim_max, 65536);
    ::setrlimit(RLIMIT_NOFILE, &limit);
}

int serve(const Options& options, const bench::BenchFile& bench) {
    if (const auto wrong = gateway::LocalSocket::objection_to(options.socket)) return refuse(*wrong);
    auto recovered = decider::recover(options.journal);
    if (!recovered) return refuse(recovered.error().message);
    const auto first = decider::first_facts(recovered->state, bench, options.end_run);
    if (!first) return refuse(first.error().why);

    const auto key = seal::PrivateKey::load_or_make(options.key);
    if (!key) return refuse(key.error().message);

    // Both outlive the deciding thread's work: replies that still wait there hold on to their connections.
    std::unique_ptr<gateway::LocalSocket> socket;
    std::unique_ptr<gateway::HttpServer> http;
    if (!options.http.address.empty()) {
        http = std::make_unique<gateway::HttpServer>(options.http, log);
        if (const auto trouble = http->trouble()) return refuse(*trouble);
    }
    boost::asio::io_context io{1};
    std::unique_ptr<decider::Decider> decider;
    decider::DeciderSinks sinks;
    sinks.tell = [](const bench::Tell& tell) { log(tell.alarm, tell.words); };
    sinks.changed = [&socket, &http, &decider] {
        const bool to_socket = socket && socket->has_subscribers(), to_http = http && http->has_subscribers();
        if (!to_socket && !to_http) return;
        const nlohmann::json line = {{"frame", decider::frame(*decider)}};
        const auto text = std::make_shared<const std::string>(
            line.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n");
        if (to_socket) socket->publish(text);
        if (to_http) http->publish(text);
    };
    std::vector<std::unique_ptr<acquisition::BusThread>> buses;
    sinks.ask_again = [&buses](std::uint32_t channel) {
        for (const auto& bus : buses)
            if (bus->ask_again(channel)) return;
    };
    decider = std::make_unique<decider::Decider>(io, std::move(recovered->state), recovered->last_number,
                                                 options.journal, std::move(sinks), *key);
    if (const auto wrong = decider->start(*first)) return refuse(*wrong);

    gateway::CertificateOffice office(io, *decider,
                                      {options.records, journal::memory_path(options.key), options.journal, *key, log});
    office.take_up();
    gateway::GatewayDoor door;
    door.ask = [&io, &decider, &office](nlohmann::json request, std::function<void(nlohmann::json)> reply) {
        boost::asio::post(io, [&decider, &office, request = std::move(request), reply = std::move(reply)] {
            if (gateway::CertificateOffice::takes(request)) return office.answer(request, reply);
            gateway::answer(*decider, request, reply);
        });
    };
    gateway::GatewayDoor local_door{gateway::guarded(door.ask, !options.http.users.empty())};
    for (auto& plan : decider::bus_plans(*decider->state().bench)) {
        acquisition::BusSinks bus_sinks;
        bus_sinks.reading = [&decider](const acquisition::Reading& reading) { decider->post(reading); };
        bus_sinks.fault = [&decider](const acquisition::ChannelFault& fault) { decider->post(fault); };
        bus_sinks.change = [](const std::string& words, bool bad) { log(bad, words); };
        buses.push_back(std::make_unique<acquisition::BusThread>(std::move(plan), std::move(bus_sinks)));
    }
    socket = std::make_unique<gateway::LocalSocket>(options.socket, local_door);
    if (const auto trouble = socket->trouble()) return refuse(*trouble);
    if (http) {
        http->serve({door,
                     [&io, &decider](std::function<void(const decider::Decider&)> look) {
                         boost::asio::post(io, [&decider, look = std::move(look)] { look(*decider); });
                     },
                     options.journal, options.records});
        log(false, fmt::format("the console is at {}", http->url()));
    }
    log(false, fmt::format("the journal is signed with the key {} (fingerprint {}); who verifies it needs {}.pub",
                           options.key, key->public_key().fingerprint(), options.key));
    log(false, fmt::format("{}: {} instruments on {} buses; journal {}; socket {}", decider->state().bench->name,
                           decider->state().bench->instruments.size(), buses.size(), options.journal, options.socket));

    boost::asio::signal_set signals(io, SIGTERM, SIGINT);
    signals.async_wait([&io](const boost::system::error_code& error, int signal) {
        if (error) return;
        log(false, signal == SIGTERM ? "asked to stop" : "interrupted");
        io.stop();
    });
    io.run();

    for (auto& bus : buses)
        bus->ask_to_stop();
    buses.clear();
    socket->stop();
    if (http) http->stop();
    decider->stop("asked to stop");
    return done;
}

} // namespace

int main(int argc, char** argv) {
    CLI::App app{"Reads the instruments on a pressure calibration bench and marks the readings that count."};
    Options options;
    app.add_option("BENCH", options.bench, "the bench file")->required();
    app.add_flag("--check", options.check, "read the bench file, say what is wrong with it, and end");
    app.add_option("--journal", options.journal,
                   "the journal; by default beside the bench file, with .journal behind its name");
    app.add_option("--key", options.key,
                   "the key that signs the journal, made where it is missing; by default beside the journal, with .key "
                   "behind its name");
    app.add_option("--records", options.records,
                   "the folder of the certificates; by default beside the journal, with .records behind its name");
    app.add_option("--socket", options.socket,
                   "where clients reach the service; by default $STILLMARK_SOCKET or /run/stillmark/socket");
    app.add_option("--profiles", options.profiles,
                   "the folder of instrument profiles; by default $STILLMARK_PROFILES or the installed one");
    app.add_option("--http", options.http.address,
                   "an address and a port for the console, as 127.0.0.1:8788; without it there is none");
    app.add_option("--http-name", options.http.names,
                   "a name by which browsers reach the console, beside its address; may be given again");
    app.add_option("--tls-certificate", options.http.certificate, "the console's certificate, in PEM");
    app.add_option("--tls-key", options.http.key, "the key of that certificate, in PEM");
    app.add_option("--users", options.http.users,
                   "the file of those who may log in at the console, as `stillmark users` writes it");
    app.add_flag("--end-run", options.end_run, "stop a run that was begun with another revision of the bench file");
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& error) {
        return app.exit(error) == 0 ? done : wrong_use;
    }
    const auto from_environment = [](const char* name, const char* otherwise) {
        const char* value = std::getenv(name);
        return std::string(value != nullptr ? value : otherwise);
    };
    if (options.journal.empty()) options.journal = options.bench + ".journal";
    if (options.key.empty()) options.key = options.journal + ".key";
    if (options.records.empty()) options.records = options.journal + ".records";
    if (options.socket.empty()) options.socket = from_environment("STILLMARK_SOCKET", "/run/stillmark/socket");
    if (options.profiles.empty()) options.profiles = from_environment("STILLMARK_PROFILES", STILLMARK_PROFILE_FOLDER);

    if (!options.http.users.empty() && options.http.address.empty())
        return refuse("--users is for the console; give --http too");
    auto bench = bench::load_bench(options.bench, options.profiles, {records::is_time_zone});
    if (!bench) return refuse(bench.error().message);
    if (options.check) {
        std::printf("%s: good: %zu instruments, %zu discs, %zu sequences, revision %s\n", options.bench.c_str(),
                    bench->instruments.size(), bench->discs.size(), bench->sequences.size(), bench->revision.c_str());
        return done;
    }
    set_up_log();
    allow_many_descriptors();
    // A client that is gone and a file that may not grow are errors of the write that meets them, not the end.
    (void)std::signal(SIGPIPE, SIG_IGN);
    (void)std::signal(SIGXFSZ, SIG_IGN);
    return serve(options, *bench);
}
