#pragma once

#include "daemon/cli/client.hpp"

#include <optional>
#include <string>

namespace stillmark::cli {

/// What every command that asks the service knows.
struct ServiceCall {
    std::string socket;    ///< path of the service's socket
    std::string by;        ///< the person, as the system knows them; a command's --by stands above it
    Micros pressed_us = 0; ///< when the command was given
};

/// Asks one request. Where the answer is not ok, says so (on standard error, or as JSON on standard output), sets the
/// exit code and gives nothing.
std::optional<Json> ask_service(const ServiceCall& call, const Json& request, bool as_json, int& exit_code);

/// The same for a request that changes something: carries who asks and when.
std::optional<Json> command_service(const ServiceCall& call, Json request, bool as_json, int& exit_code);

/// A part of a reply, or an objection told and the exit code set.
const Json* part_of(const Json& reply, const char* key, int& exit_code);

/// Prints a line of JSON.
void print_json(const Json& value);

} // namespace stillmark::cli
