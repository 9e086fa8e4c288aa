#pragma once

#include "daemon/gateway/http_routes.hpp"

namespace stillmark::gateway {

// What is asked beside the deciding thread: of the journal's file, of the records, and of the bench that is in use.

HttpOutcome ask_for_bench(const HttpRequest& request, const HttpGround& ground);
HttpOutcome ask_for_events(const HttpRequest& request, const HttpGround& ground);
HttpOutcome ask_for_readings(const HttpRequest& request, const HttpGround& ground);
/// A document of a certificate, from the folder of the records.
HttpOutcome ask_for_document(const HttpRequest& request, const HttpGround& ground);
HttpOutcome ask_for_budget(const HttpRequest& request, const HttpGround& ground);

} // namespace stillmark::gateway
