#include "daemon/cli/service_call.hpp"

#include "daemon/cli/columns.hpp"
#include "daemon/cli/exit_code.hpp"

#include <fmt/format.h>

#include <cstdio>

namespace stillmark::cli {

namespace {

constexpr Micros answer_within_us = 5'000'000;

Exit exit_of(const std::string& code) {
    if (code == "refused") return Exit::answer_is_no;
    if (code == "bad_request") return Exit::wrong_use;
    return Exit::internal;
}

void complain(const std::string& error, const std::string& word, bool as_json) {
    if (as_json)
        print_json({{"ok", false}, {"code", word}, {"error", error}});
    else
        fmt::print(stderr, "stillmark: {}\n", printable(error));
}

} // namespace

void print_json(const Json& value) {
    fmt::print("{}\n", to_line(value));
}

std::optional<Json> ask_service(const ServiceCall& call, const Json& request, bool as_json, int& exit_code) {
    auto client = Client::connect(call.socket);
    auto reply = client ? client->ask(request, answer_within_us) : Outcome<Reply>(client.error());
    if (!reply) {
        complain(reply.error().message, "unreachable", as_json);
        exit_code = code(Exit::unreachable);
        return std::nullopt;
    }
    if (!reply->ok) {
        complain(reply->error, reply->code, as_json);
        exit_code = code(exit_of(reply->code));
        return std::nullopt;
    }
    return std::move(reply->body);
}

std::optional<Json> command_service(const ServiceCall& call, Json request, bool as_json, int& exit_code) {
    request["pressed_us"] = call.pressed_us;
    if (!request.contains("by") && !call.by.empty()) request["by"] = call.by;
    return ask_service(call, request, as_json, exit_code);
}

const Json* part_of(const Json& reply, const char* key, int& exit_code) {
    const auto found = reply.find(key);
    if (found != reply.end()) return &*found;
    fmt::print(stderr, "stillmark: the service's reply has no \"{}\"\n", key);
    exit_code = code(Exit::unreachable);
    return nullptr;
}

} // namespace stillmark::cli
