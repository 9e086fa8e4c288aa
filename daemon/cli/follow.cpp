#include "daemon/cli/commands.hpp"
#include "daemon/cli/exit_code.hpp"
#include "daemon/cli/follow_view.hpp"
#include "daemon/cli/follow_wire.hpp"
#include "daemon/cli/terminal.hpp"
#include "daemon/cli/wording.hpp"

#include <CLI/CLI.hpp>
#include <fmt/format.h>

#include <csignal>
#include <cstdio>
#include <memory>
#include <poll.h>
#include <string>
#include <unistd.h>

namespace stillmark::cli {

namespace {

constexpr int redraw_ms = 100;
/// Beyond this between two turns the view was halted: what was typed meanwhile has no instant any more.
constexpr Micros halted_us = 800'000;

// A signal can leave only a flag behind.
volatile std::sig_atomic_t asked_to_end = 0; // NOLINT(cppcoreguidelines-avoid-non-const-global-variables)
void end(int) {
    asked_to_end = 1;
}

void end_on_signals() {
    asked_to_end = 0;
    struct sigaction action {};
    action.sa_handler = end;
    for (const int signal : {SIGINT, SIGTERM, SIGHUP})
        static_cast<void>(::sigaction(signal, &action, nullptr));
}

/// The loop of the live view: ends when the person quits, or on a signal.
void watch(Terminal& terminal, FollowWire& wire) {
    FollowState state;
    Micros last_us = protocols::now_us();
    state.away_since_us = last_us;
    while (asked_to_end == 0) {
        wire.turn(state, protocols::now_us());
        terminal.draw(render(state, terminal.columns(), terminal.rows(), protocols::now_us()));
        std::vector<pollfd> waiting = wire.waiting();
        waiting.push_back({STDIN_FILENO, POLLIN, 0});
        static_cast<void>(::poll(waiting.data(), waiting.size(), redraw_ms));
        const Micros now_us = protocols::now_us();
        if ((waiting.back().revents & (POLLHUP | POLLERR)) != 0) return;
        if (now_us - last_us > halted_us) {
            terminal.drop_keys();
            refuse(state, fmt::format("This view was halted for {}; keys pressed meanwhile are dropped.",
                                      span_words(now_us - last_us)));
        }
        last_us = now_us;
        for (const int key : terminal.keys()) {
            Pressed pressed = press(state, key, now_us);
            if (pressed.quit) return;
            wire.send(std::move(pressed.requests), now_us);
        }
    }
}

} // namespace

void add_follow(CLI::App& app, const ServiceCall& call, int& exit_code) {
    CLI::App* command = app.add_subcommand("follow", "Live view with single keys, for the person at the bench");
    const auto by = std::make_shared<std::string>();
    command->add_option("--by", *by, "Who presses the keys; the login name where not given");
    command->callback([&call, &exit_code, by] {
        end_on_signals();
        auto terminal = Terminal::open();
        if (!terminal) {
            fmt::print(stderr, "stillmark follow: {}\n", terminal.error().message);
            exit_code = code(Exit::wrong_use);
            return;
        }
        FollowWire wire(call.socket, by->empty() ? call.by : *by);
        watch(**terminal, wire);
    });
}

} // namespace stillmark::cli
