// What the bench file says, as the service tells it.

import {Units} from "./numbers.js";

export class BenchModel {
  constructor() {
    this.units = new Units();
    this.take({});
  }
  take(bench) {
    this.name = bench.name ?? "";
    this.laboratory = bench.laboratory ?? "";
    this.revision = bench.revision ?? "";
    this.weakest = bench.weakest ?? null;
    this.changeover_pa = bench.changeover_pa ?? null;
    this.ranges = bench.ranges ?? [];
    this.discs = new Map((bench.discs ?? []).map((one) => [one.name, one]));
    this.instruments = new Map((bench.instruments ?? []).map((one) => [one.name, one]));
    this.sequences = bench.sequences ?? [];
    this.buses = bench.buses ?? [];
    this.surroundings = bench.surroundings ?? null;
    this.balance = bench.balance ?? null;
    this.units.learn(bench.instruments ?? []);
  }
}
