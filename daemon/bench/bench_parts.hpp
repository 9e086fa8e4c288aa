#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/file_place.hpp"

#include <string>

namespace stillmark::bench {

// The parts of a bench file, read in this order: a later part is checked against the earlier ones.
void read_site(const Place& place, BenchFile& bench);
void read_balance(const Place& place, BenchFile& bench);
void read_masses(const Place& place, BenchFile& bench);
void read_buses(const Place& root, BenchFile& bench);
void read_instruments(const Place& root, BenchFile& bench);
void read_sequences(const Place& root, BenchFile& bench);
void read_capability(const Place& root, BenchFile& bench);

metrology::ShortForm read_short_form(const Place& place);

metrology::Liquid read_liquid(const Place& place);

/// Empty where such air exists in a laboratory; otherwise what is wrong with it.
std::string surroundings_objection(const metrology::Surroundings& air);

} // namespace stillmark::bench
