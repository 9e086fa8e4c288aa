"""JCGM's own examples, run as files, against the figures that were published for them.

"from memory": the printed figure was not seen again when the test was written; figures with more digits are computed and
check against regression.
"""
import math
import unittest

from propagation.command import EXAMPLES, call, example


class Gum(unittest.TestCase):
    def near(self, found, published, within):
        self.assertLessEqual(abs(found - published), within, f"{found} is not {published}")

    def test_h1_end_gauge(self):
        """JCGM 100:2008, H.1: 50 000 838 nm, u 32 nm, nu 16.7, U99 about 93 nm, second order 34 nm."""
        found = example("h1_end_gauge")
        self.near(found["y"], 50000838, 0.5)
        self.near(found["u"], 32, 0.5)
        self.near(found["u"], 31.663879, 1e-5)
        self.near(found["dof"], 16.7, 0.1)
        self.near(found["U"], 93, 1.5)  # the guide cuts nu down to 16
        self.near(found["second_order"]["u"], 34, 0.5)
        self.near(found["second_order"]["u"], 33.8065, 1e-3)
        self.assertEqual(found["budget"][0]["input"], "ls")
        self.assertIn("interval99", found)
        self.assertFalse(found["monte_carlo"]["validated"])

    def test_h2_means_and_correlations(self):
        """JCGM 100:2008, H.2, table H.2: means, standard uncertainties and correlations of V, I and phi."""
        found = example("h2_impedance")["outputs"]["R"]["budget"]
        by_name = {line["input"]: line for line in found}
        for name, mean, mean_within, u, exact in (("V", 4.9990, 5e-5, 0.0032, 0.00320936),
                                                  ("I", 19.6610e-3, 5e-8, 0.0095e-3, 0.00947101e-3),
                                                  ("phi", 1.04446, 5e-6, 0.00075, 0.000752064)):
            self.near(by_name[name]["value"], mean, mean_within)
            self.near(by_name[name]["u"], u, u * 0.02)
            self.near(by_name[name]["u"], exact, exact * 1e-6)
            self.assertEqual(by_name[name]["dof"], 4)

    def test_h2_approach_1(self):
        """JCGM 100:2008, H.2, table H.4: R, X, Z with their uncertainties and correlations (X 0.295, exactly 0.29558)."""
        found = example("h2_impedance")
        for name, y, within, u, exact_y, exact_u in (("R", 127.732, 5e-4, 0.071, 127.73217, 0.0710714),
                                                     ("X", 219.847, 5e-4, 0.295, 219.846512, 0.295582),
                                                     ("Z", 254.260, 5e-4, 0.236, 254.259702, 0.236336)):
            one = found["outputs"][name]
            self.near(one["y"], y, within)
            self.near(one["u"], u, 6e-4)
            self.near(one["y"], exact_y, 1e-5)
            self.near(one["u"], exact_u, 1e-6)
            self.assertAlmostEqual(one["dof"], 4)
        self.correlations(found, -0.588, -0.485, 0.993)
        self.correlations(found, -0.58843, -0.485259, 0.992512, 1e-5)

    def test_h2_approach_2(self):
        """JCGM 100:2008, H.2, table H.4, each set by itself: the same to three digits."""
        found = example("h2_impedance_each_set")
        for name, y, u in (("R", 127.73163, 0.0712735), ("X", 219.846895, 0.295489), ("Z", 254.26005, 0.236248)):
            self.near(found["outputs"][name]["y"], y, 1e-5)
            self.near(found["outputs"][name]["u"], u, 1e-6)
        self.correlations(found, -0.588, -0.485, 0.993)
        self.correlations(found, -0.588277, -0.485065, 0.992508, 1e-5)

    def correlations(self, found, rx, rz, xz, within=6e-4):
        matrix = found["correlation"]
        self.assertEqual(matrix["order"], ["R", "X", "Z"])
        self.near(matrix["first_order"][0][1], rx, within)
        self.near(matrix["first_order"][0][2], rz, within)
        self.near(matrix["first_order"][1][2], xz, within)
        for i in range(3):
            for j in range(3):
                self.near(matrix["monte_carlo"][i][j], matrix["first_order"][i][j], 0.01)

    def test_h5_analysis_of_variance(self):
        """JCGM 100:2008, H.5: mean 10.000 097 V, s of the means 57 uV, pooled 85 uV, F 2.25 (of rounded figures)."""
        found = example("h5_analysis_of_variance")["outputs"]
        self.near(found["mean"]["y"], 10.000097, 5e-7)
        self.near(found["mean"]["y"], 10.0000971, 1e-9)
        self.near(1e6 * found["mean"]["u"] * math.sqrt(10), 57, 0.5)
        self.near(1e6 * found["mean"]["u"] * math.sqrt(10), 57.0895, 1e-3)
        self.near(found["s_between"]["y"], 57.0895, 1e-3)
        self.near(found["s_pooled"]["y"], 85, 0.5)
        self.near(found["s_pooled"]["y"], 84.887, 1e-3)
        self.near(found["F"]["y"], 2.26152, 1e-4)
        self.near(5 * 57 ** 2 / 85 ** 2, 2.25, 5e-3)

    def test_a_quotient_with_its_degrees_of_freedom(self):
        """suncal's tests: 0.6967, u 0.00494, nu 27.7 (within 0.5), U95 0.0101."""
        found = example("welch_satterthwaite_quotient")
        self.near(found["y"], 0.6967, 5e-5)
        self.near(found["u"], 0.00494, 1e-5)
        self.near(found["dof"], 27.7, 0.5)
        self.near(found["U"], 0.0101, 5e-5)
        self.assertAlmostEqual(found["interval95"][1] - found["y"], found["U"], 12)


class Supplement(unittest.TestCase):
    """JCGM 101:2008, clause 9. Tolerances: the published digits, and beside the computed figures the trials' own."""

    def interval(self, found, low, high, within, kind="shortest"):
        ends = found["monte_carlo"][f"interval95_{kind}"]
        self.assertLessEqual(abs(ends[0] - low), within, f"{ends} is not [{low}, {high}]")
        self.assertLessEqual(abs(ends[1] - high), within, f"{ends} is not [{low}, {high}]")

    def near(self, found, published, within):
        self.assertLessEqual(abs(found - published), within, f"{found} is not {published}")

    def test_9_2_2_normal(self):
        found = example("s1_9_2_2_normal")
        self.near(found["u"], 2, 1e-12)
        self.near(found["U"], 3.919928, 1e-6)
        self.near(found["monte_carlo"]["u"], 2, 0.01)
        self.interval(found, -3.92, 3.92, 0.05)
        self.interval(found, -3.919928, 3.919928, 0.02, "symmetric")
        self.assertTrue(found["monte_carlo"]["validated"])

    def test_9_2_3_rectangular(self):
        found = example("s1_9_2_3_rectangular")
        self.near(found["U"], 3.92, 0.005)
        self.interval(found, -3.88, 3.88, 0.05)
        self.interval(found, -3.879406741, 3.879406741, 0.02, "symmetric")

    def test_9_2_4_dominant_from_memory(self):
        found = example("s1_9_2_4_dominant")
        self.near(found["u"], 10.1, 0.05)
        self.near(found["u"], 10.148892, 1e-6)
        self.near(found["U"], 19.9, 0.05)
        self.near(found["U"], 19.891462, 1e-6)
        self.interval(found, -17.0158141, 17.0158141, 0.15, "symmetric")
        self.interval(found, -17.0, 17.0, 0.5)
        self.assertFalse(found["monte_carlo"]["validated"])

    def test_9_3_mass_from_memory(self):
        found = example("s1_9_3_mass")
        self.near(found["y"], 1.2340, 5e-5)
        self.near(found["u"], 0.0539, 5e-5)
        self.near(found["interval95"][0], 1.1285, 5e-5)
        self.near(found["interval95"][1], 1.3395, 5e-5)
        self.near(found["interval95"][0], 1.1284527, 1e-6)
        self.near(found["second_order"]["u"], 0.0750, 5e-5)
        low = found["second_order"]["y"] - 1.959964 * found["second_order"]["u"]
        self.near(low, 1.0870, 1e-4)
        self.near(low, 1.0870743, 1e-6)
        self.near(found["monte_carlo"]["mean"], 1.2340, 3e-4)
        self.near(found["monte_carlo"]["u"], 0.0754, 5e-4)
        self.near(found["monte_carlo"]["u"], 0.07547974, 3e-4)
        self.interval(found, 1.0844, 1.3836, 1.5e-3)
        self.assertFalse(found["monte_carlo"]["validated"])

    def loss(self, x1, r, gum, mean, u, low, high):
        """Published in units of 1e-6: means, uncertainties and shortest intervals, from memory."""
        found = example(f"s1_9_4_loss_{x1}" + ("_correlated" if r else ""))
        y, u_first, gum_low, gum_high = gum
        self.near(1e6 * found["y"], y, 1e-6)
        self.near(1e6 * found["u"], u_first, 1e-6)
        self.near(1e6 * found["interval95"][0], gum_low, 0.5)
        self.near(1e6 * found["interval95"][1], gum_high, 0.5)
        trials = found["monte_carlo"]
        self.near(1e6 * trials["mean"], mean, max(1.2, 0.005 * mean))
        self.near(1e6 * trials["u"], u, 1)
        self.near(1e6 * trials["interval95_shortest"][0], low, max(1, 0.015 * u))
        self.near(1e6 * trials["interval95_shortest"][1], high, max(1.5, 0.015 * u))
        self.assertFalse(trials["validated"])

    def test_9_4_loss_about_zero_from_memory(self):
        self.loss("0", 0, (0, 0, 0, 0), 50, 50, 0, 149.8)

    def test_9_4_loss_010_from_memory(self):
        self.loss("010", 0, (100, 100, -96, 296), 150, 111.8034, 0, 366.1)

    def test_9_4_loss_050_from_memory(self):
        self.loss("050", 0, (2500, 500, 1520, 3480), 2550, 502.49378, 1594, 3549)

    def test_9_4_loss_about_zero_correlated_from_memory(self):
        self.loss("0", 0.9, (0, 0, 0, 0), 50, 67.26812, 0, 185.1)

    def test_9_4_loss_010_correlated_from_memory(self):
        self.loss("010", 0.9, (100, 100, -96, 296), 150, 120.51971, 12.3, 397.1)

    def test_9_4_loss_050_correlated_from_memory(self):
        self.loss("050", 0.9, (2500, 500, 1520, 3480), 2550, 504.50471, 1625, 3554)

    def test_9_4_exact_moments_of_second_order(self):
        """Independent: mean and u of a sum of squares are those of second order, exactly."""
        for x1, u in (("0", 50), ("010", 111.8034), ("050", 502.49378)):
            found = example(f"s1_9_4_loss_{x1}")["second_order"]
            self.near(1e6 * found["u"], u, 1e-4)


class Files(unittest.TestCase):
    def test_every_example_is_told_to_people_too(self):
        names = sorted(EXAMPLES.glob("*.json"))
        self.assertGreater(len(names), 10)
        for name in names:
            done = call("propagate", name)
            self.assertEqual(done.returncode, 0, done.stderr)
            said = done.stdout.decode()
            self.assertIn("First order:", said)
            self.assertLessEqual(max(map(len, said.splitlines()[2:])), 120, name)


if __name__ == "__main__":
    unittest.main()
