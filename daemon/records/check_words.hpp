#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/event.hpp"
#include "daemon/metrology/sentence.hpp"

namespace stillmark::records {

/// What a check of a run found, from its recorded value and limit: the instrument that the check was read with may be
/// another than the certificate's, and is not named. Pressures stand in the unit of `instrument`.
metrology::Sentence check_words(const bench::CheckRecorded& check, const bench::Checks& asked,
                                const bench::Instrument& instrument);

} // namespace stillmark::records
