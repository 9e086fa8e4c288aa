#pragma once

#include "daemon/bench/bench_file.hpp"
#include "daemon/bench/file_place.hpp"

#include <string>

namespace stillmark::bench {

// The parts of a bench file, read in this order: a later part is checked against the earlier ones.
/// `machine`: what only this machine knows.
void read_site(const Place& place, BenchFile& bench, const MachineChecks& machine);
void read_balance(const Place& place, BenchFile& bench);
void read_masses(const Place& place, BenchFile& bench);
void read_buses(const Place& root, BenchFile& bench);
void read_instruments(const Place& root, BenchFile& bench);
void read_sequences(const Place& root, BenchFile& bench);
void read_checks(const Place& root, BenchFile& bench);
void read_capability(const Place& root, BenchFile& bench);
void read_standards(const Place& root, BenchFile& bench);
void read_records(const Place& root, BenchFile& bench);

metrology::ShortForm read_short_form(const Place& place);

metrology::Liquid read_liquid(const Place& place);
metrology::Gas read_gas(const Place& place);

/// What fills the balance, and whether it is gauge or absolute.
void read_fluid(const Place& place, Balance& balance);
/// A height in words that say which way, such as "85 mm below balance", in m: positive downwards. `down` and `up` are
/// the two endings.
double read_height(const Place& place, const std::string& down, const std::string& up);
/// The fluids between the balance and an instrument.
void read_head(const Place& place, const Balance& balance, Instrument& to);
/// What an instrument's readings are counted from.
void read_counting(const Place& place, Instrument& to);

/// Which of the balance's ranges a text names, as its index; told at its place where it is none.
std::size_t read_range_name(const Place& place, const BenchFile& bench);

/// Empty where such air exists in a laboratory; otherwise what is wrong with it.
std::string surroundings_objection(const metrology::Surroundings& air);

} // namespace stillmark::bench
