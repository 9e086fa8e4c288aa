"""Deliberate faults of gas, of the evacuated bell, and of what instruments count from: each must be noticed."""
import unittest

from faults import fault
from faults.fault import Fault

VALUES = "daemon/metrology/reference_values.hpp"
TESTS = "tests/metrology/gas_test.cpp"
BY_RESULT = [TESTS, "daemon/metrology/reference_pressure.cpp"]


class Gas(fault.Faults):
    FAULTS = [
        Fault("density of the gas at gauge pressure", VALUES,
              "const Scalar absolute_pa = is_gauge ? pressure_pa + ambient_pa : pressure_pa;",
              "const Scalar absolute_pa = pressure_pa;", "metrology", "GasHead.*", [TESTS]),
        Fault("column of air not taken off", VALUES, "pressure_pa += is_gauge ? gains_pa - air_gains_pa : gains_pa;",
              "pressure_pa += gains_pa;", "metrology", "GasHead.*", [TESTS]),
        Fault("barometer forgotten", VALUES, "is_gauge ? way.pressure_pa + way.ambient_pa : way.pressure_pa;",
              "way.pressure_pa;", "metrology", "CountedFrom.*", BY_RESULT),
        Fault("sealed reference added", VALUES, "absolute_pa - values.sealed_reference_pa",
              "absolute_pa + values.sealed_reference_pa", "metrology", "CountedFrom.*", BY_RESULT),
        Fault("buoyancy of the air in the bell", VALUES, "values.mode == PressureKind::absolute\n            ? dry_air",
              "false\n            ? dry_air", "metrology", "AbsoluteMode.*", BY_RESULT),
        Fault("residual pressure forgotten", "daemon/metrology/pressure_equation.hpp",
              "forces) + in.residual_pressure_pa;", "forces);", "metrology", "AbsoluteMode.*", BY_RESULT),
        Fault("second virial coefficient dropped", "daemon/metrology/gas.hpp", "ideal_mol_m3 * (b + ",
              "ideal_mol_m3 * (0.0 * b + ", "metrology", "GasDensity.*", [TESTS]),
    ]


if __name__ == "__main__":
    unittest.main()
