#pragma once

#include "daemon/bench/ledger.hpp"
#include "daemon/decider/decider.hpp"
#include "daemon/decider/frame.hpp"
#include "daemon/decider/recovery.hpp"
#include "daemon/decider/replay.hpp"
#include "daemon/decider/service_facts.hpp"
#include "drivers/driver.hpp"
#include "protocols/instant.hpp"

#include <boost/asio/io_context.hpp>

#include <chrono>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <stdlib.h>
#include <string>
#include <vector>

namespace stillmark::decider::testing {

/// A folder of its own for each test, removed afterwards.
class Folder {
  public:
    Folder() {
        std::string name = (std::filesystem::temp_directory_path() / "stillmark-decider-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
        path_ = name;
    }
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    std::string operator/(const char* name) const { return (path_ / name).string(); }

  private:
    std::filesystem::path path_;
};

inline std::string file_text(const std::string& path) {
    std::ifstream in(std::string(STILLMARK_SOURCE_DIR) + "/" + path, std::ios::binary);
    if (!in) throw std::runtime_error("cannot read " + path);
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

/// The small invented bench, hurried: one fast transmitter, no preload, a mark within half a second.
inline bench::BenchFile hurried_bench(const std::string& before = "") {
    std::string text = before + file_text("tests/bad_bench/base.json");
    const std::pair<const char*, const char*> edits[] = {
        {R"("response_time": "50 ms", "poll": "50 ms", "window": "1.6 s", "hold": "0.6 s")",
         R"("response_time": "5 ms", "poll": "10 ms", "window": "0.2 s", "hold": "0.1 s")"},
        {R"("settle": "0.6 s", "loss": "0.5 s")", R"("settle": "0.15 s", "loss": "0.1 s")"},
        {R"("preloads": {"count": 1, "hold": "1 s"})", R"("preloads": {"count": 0})"},
        {R"("wait": "0.5 s")", R"("wait": "0 s")"},
        {R"("laboratory": "Invented Pressure Laboratory, Nowhere",)",
         R"("laboratory": "Invented Pressure Laboratory, Nowhere", "records": {"country": "DE"},)"},
    };
    for (const auto& [old_text, new_text] : edits) {
        const auto at = text.find(old_text);
        if (at == std::string::npos) throw std::runtime_error(std::string("not in base.json: ") + old_text);
        text.replace(at, std::string(old_text).size(), new_text);
    }
    std::map<std::string, std::string> profiles;
    for (const char* name : {"invented-transmitter-rtu.json", "invented-transmitter-tcp.json",
                             "invented-digital-gauge.json", "invented-dial-gauge.json"})
        profiles[name] = file_text(std::string("drivers/profiles/") + name);
    auto bench = bench::bench_from_texts("invented.json", text, profiles);
    if (!bench) throw std::runtime_error(bench.error().message);
    return std::move(*bench);
}

/// The deciding thread as the service has it, with a real journal, and a person and an instrument made up by the test.
class Desk {
  public:
    explicit Desk(std::string journal_path, const bench::BenchFile& bench = hurried_bench())
        : journal_path_(std::move(journal_path)) {
        auto recovered = recover(journal_path_);
        if (!recovered) throw std::runtime_error(recovered.error().message);
        const auto first = first_facts(recovered->state, bench, false);
        if (!first) throw std::runtime_error(first.error().why);
        DeciderSinks sinks;
        sinks.tell = [this](const bench::Tell& tell) { told.push_back(tell); };
        sinks.changed = [this] { ++changes; };
        decider =
            std::make_unique<Decider>(io, std::move(recovered->state), recovered->last_number, journal_path_, sinks);
        if (const auto wrong = decider->start(*first)) throw std::runtime_error(*wrong);
    }

    /// Runs the deciding thread's work, with a reading of transmitter A every 10 ms, until something holds.
    template <class Holds>
    bool until(Holds holds, double at_most_s = 8) {
        const Micros end_us = protocols::now_us() + static_cast<Micros>(at_most_s * 1e6);
        while (!holds()) {
            if (protocols::now_us() > end_us) return false;
            if (reads) read();
            io.run_for(std::chrono::milliseconds(5));
            io.restart();
        }
        return true;
    }
    void pass(double seconds) {
        const Micros end_us = protocols::now_us() + static_cast<Micros>(seconds * 1e6);
        until([end_us] { return protocols::now_us() >= end_us; }, seconds + 1);
    }

    Outcome ask(const std::function<bench::Decision(const bench::State&, Micros)>& decide) {
        std::optional<Outcome> outcome;
        decider->request(
            [&decide](const bench::State& state, const bench::Moment& moment) { return decide(state, moment.now_us); },
            [&outcome](Outcome one) { outcome = std::move(one); });
        if (!until([&outcome] { return outcome.has_value(); })) throw std::runtime_error("no outcome");
        return *outcome;
    }
    static bench::Press press(Micros now_us) { return {now_us, now_us, "invented person"}; }

    const bench::State& state() const { return decider->state(); }
    const bench::Step* step() const { return state().running() != nullptr ? state().running()->now() : nullptr; }

    Outcome start_run() {
        return ask([](const bench::State& state, Micros now) {
            return bench::start_run(state, press(now), "short", "as found", {"transmitter A"});
        });
    }
    /// Does what the step asks for; a reading step waits for its mark.
    Outcome go_on() {
        const auto number = static_cast<std::int64_t>(state().running()->step);
        switch (step()->kind) {
        case bench::StepKind::act:
            return ask(
                [=](const bench::State& state, Micros now) { return bench::step_done(state, press(now), number); });
        case bench::StepKind::load:
            return ask([=](const bench::State& state, Micros now) {
                return bench::state_planned_load(state, press(now), number);
            });
        case bench::StepKind::raise: {
            const auto range = state().bench->balance.ranges[*step()->range].physics.name;
            return ask(
                [=](const bench::State& state, Micros now) { return bench::confirm_float(state, press(now), range); });
        }
        case bench::StepKind::sight:
            return ask(
                [](const bench::State& state, Micros now) { return bench::sight_float(state, press(now), true); });
        case bench::StepKind::vent:
            return ask([](const bench::State& state, Micros now) { return bench::vent_line(state, press(now)); });
        case bench::StepKind::check:
            return ask([=](const bench::State& state, Micros now) {
                return bench::answer_check(state, press(now), number, {});
            });
        case bench::StepKind::read:
        case bench::StepKind::wait: {
            const auto before = state().running()->step;
            // A busy machine leaves gaps between readings, and a window with one begins again.
            constexpr double patience_s = 90;
            const bool went_on =
                until([this, before] { return state().running() == nullptr || state().running()->step != before; },
                      patience_s);
            return went_on ? Outcome{} : Outcome{Outcome::Kind::refused, "nothing came of waiting"};
        }
        }
        return {};
    }
    void go_on_to(bench::StepKind kind) {
        for (int bound = 0; bound < 60; ++bound) {
            if (step() == nullptr || step()->kind == kind) return;
            if (const auto outcome = go_on(); outcome.kind != Outcome::Kind::recorded)
                throw std::runtime_error(outcome.why);
        }
    }

    /// One reading of transmitter A now, of the pressure that the float makes, or of none.
    void read() {
        const Micros now = protocols::now_us();
        if (now - last_read_us_ < 10'000) return;
        last_read_us_ = now;
        ++count_;
        double value_pa = 0;
        if (const auto* interval = state().open_interval())
            value_pa = bench::reference_for(state(), *interval, state().bench->instruments[0]).at_instrument_pa;
        decider->post({0, timing_us, now, value_pa + off_pa + 20.0 * (count_ * 7 % 5 - 2), status});
    }

    boost::asio::io_context io{1};
    std::unique_ptr<Decider> decider;
    std::vector<bench::Tell> told;
    int changes = 0;
    bool reads = true;
    double off_pa = 0;
    std::uint32_t timing_us = 200;
    drivers::ReadingStatus status = drivers::ReadingStatus::good;

  private:
    std::string journal_path_;
    Micros last_read_us_ = 0;
    int count_ = 0;
};

} // namespace stillmark::decider::testing
