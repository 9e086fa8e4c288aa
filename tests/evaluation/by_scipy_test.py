"""Lines, polynomials, linearity and the uncertainty line of `stillmark evaluate`, beside SciPy's on random tables."""
import unittest

import numpy
from scipy import integrate, optimize, stats

from evaluation.command import Evaluated, rows, table_of

TABLES = 25


def random_table(random):
    """References as a balance makes them, a curve of the third degree, and noise; (references, readings) by series."""
    top = 10 ** random.uniform(-1, 4)
    offset = random.choice([0, -0.1, 3]) * top
    references = offset + top * numpy.sort(random.uniform(0, 1, random.integers(5, 14)))
    # Points that lie closer than readings of one point may.
    references = references[numpy.concatenate([[True], numpy.diff(references) > 0.02 * top])]
    curve = numpy.polynomial.Polynomial([random.normal(0, 0.02) * top, random.uniform(0.8, 1.2),
                                         random.normal(0, 0.01) / top, random.normal(0, 0.01) / top**2])
    noise = 10 ** random.uniform(-5, -2) * top
    series = []
    for number in range(random.integers(1, 5)):
        here = references[::-1] if number % 2 else references
        series.append((here, curve(here) + random.normal(0, noise, here.size)))
    return series


def text_of(series):
    return table_of(*[rows(number + 1, "down" if number % 2 else "up", x.tolist(), y.tolist())
                      for number, (x, y) in enumerate(series)])


def least_band(x, y, through_first=False):
    """Half width of the narrowest band about a straight line, by linear programming."""
    scale_x, scale_y = numpy.ptp(x), numpy.ptp(y)
    u, v = (x - x[0]) / scale_x, (y - y[0]) / scale_y
    ones = numpy.ones_like(u)
    above = numpy.column_stack([-ones, -u, -ones])  # v - a - b u <= t
    below = numpy.column_stack([ones, u, -ones])
    found = optimize.linprog([0, 0, 1], A_ub=numpy.vstack([above, below]), b_ub=numpy.concatenate([-v, v]),
                             bounds=[(0, 0) if through_first else (None, None), (None, None), (0, None)],
                             method="highs")
    return found.x[2] * scale_y


class ByScipy(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        random = numpy.random.default_rng(20240611)
        cls.tables = []
        while len(cls.tables) < TABLES:
            series = random_table(random)
            if series[0][0].size >= 5:
                cls.tables.append((series, Evaluated(text_of(series))))

    def all_readings(self, series):
        return numpy.concatenate([x for x, _ in series]), numpy.concatenate([y for _, y in series])

    def means(self, series):
        """Mean reading at each reference, of the mean rising and the mean falling where there are both."""
        x = numpy.sort(series[0][0])
        ways = []
        for falling in (0, 1):
            here = [y[::-1] if falling else y for number, (_, y) in enumerate(series) if number % 2 == falling]
            if here:
                ways.append(numpy.mean(here, axis=0))
        return x, numpy.mean(ways, axis=0)

    def test_the_transfer_line(self):
        for series, found in self.tables:
            x, y = self.all_readings(series)
            wanted = stats.linregress(x, y)
            line = found.json["line"]
            residual_sd = numpy.sqrt(numpy.sum((y - wanted.intercept - wanted.slope * x) ** 2) / (x.size - 2))
            numpy.testing.assert_allclose(line["slope"], wanted.slope, rtol=1e-11)
            numpy.testing.assert_allclose(line["slope_u"], wanted.stderr, rtol=1e-7)
            numpy.testing.assert_allclose(line["intercept_u"], wanted.intercept_stderr, rtol=1e-7)
            numpy.testing.assert_allclose(line["intercept"], wanted.intercept, atol=1e-10 * numpy.ptp(y))
            numpy.testing.assert_allclose(line["residual_sd"], residual_sd, rtol=1e-7)

    def test_polynomials_of_the_second_and_third_degree(self):
        for series, found in self.tables:
            x, y = self.all_readings(series)
            for one in found.json["polynomials"]:
                wanted = numpy.polynomial.Polynomial.fit(x, y, one["degree"])
                ours = numpy.polynomial.Polynomial(one["coefficients"])
                numpy.testing.assert_allclose(ours(x), wanted(x), atol=1e-10 * numpy.max(numpy.abs(y)))
                sd = numpy.sqrt(numpy.sum((y - wanted(x)) ** 2) / (x.size - one["degree"] - 1))
                numpy.testing.assert_allclose(one["residual_sd"], sd, rtol=1e-6)
            self.assertEqual([one["degree"] for one in found.json["polynomials"]],
                             [degree for degree in (2, 3) if series[0][0].size >= degree + 2])

    def test_fits_carry_the_covariance_of_weights_and_a_common_reference(self):
        """The whole covariance matrix of the readings, diag(u^2) + s s', through the weighted fit; and chi-squared."""
        random = numpy.random.default_rng(28037)
        enlarged = 0
        for series, _ in self.tables:
            x, y = self.all_readings(series)
            own = random.uniform(0.5, 2, x.size) * numpy.ptp(y) * 10 ** random.uniform(-5, -2)
            reference = random.uniform(1e-5, 1e-3) * numpy.ptp(x) * (1 + random.uniform(0, 3, x.size))
            lines = text_of(series).splitlines()
            table = [lines[0] + ",u_reference,u_reading"] + [
                f"{line},{a!r},{b!r}" for line, a, b in zip(lines[1:], reference.tolist(), own.tolist())]
            found = Evaluated("\n".join(table) + "\n").json
            size = numpy.max(numpy.abs(x))
            for fit in [found["line"], *found["polynomials"]]:
                degree = fit.get("degree", 1)
                design = numpy.vander(x / size, degree + 1, increasing=True)
                weights = design / own[:, None] ** 2
                to_coefficients = numpy.linalg.solve(design.T @ weights, weights.T)
                coefficients = to_coefficients @ y
                residuals = y - design @ coefficients
                dof = x.size - degree - 1
                chi_squared, limit = numpy.sum((residuals / own) ** 2), stats.chi2.ppf(0.95, dof)
                self.assertTrue(fit["weighted"])
                self.assertEqual(fit["degrees_of_freedom"], dof)
                numpy.testing.assert_allclose(fit["chi_squared"], chi_squared, rtol=1e-6)
                numpy.testing.assert_allclose(fit["chi_squared_limit"], limit, rtol=1e-10)
                factor = chi_squared / dof if chi_squared > limit else 1
                enlarged += factor > 1
                numpy.testing.assert_allclose(fit["enlarged"], numpy.sqrt(factor), rtol=1e-6)
                shift = numpy.polynomial.Polynomial(coefficients).deriv()(x / size) / size * reference
                whole = numpy.diag(factor * own**2) + numpy.outer(shift, shift)
                covariance = to_coefficients @ whole @ to_coefficients.T
                wanted = numpy.sqrt(numpy.diag(covariance)) / size ** numpy.arange(degree + 1)
                ours = fit["u"] if degree > 1 else [fit["intercept_u"], fit["slope_u"]]
                numpy.testing.assert_allclose(ours, wanted, rtol=1e-5)
                if degree == 1:
                    numpy.testing.assert_allclose(fit["covariance"], covariance[0, 1] / size, rtol=1e-5)
                else:
                    powers = size ** numpy.arange(degree + 1)
                    whole_matrix = numpy.array(fit["covariance"]) * numpy.outer(powers, powers)
                    numpy.testing.assert_allclose(whole_matrix, covariance, rtol=1e-5,
                                                  atol=1e-5 * numpy.max(numpy.abs(covariance)))
                    numpy.testing.assert_allclose(whole_matrix, whole_matrix.T, rtol=1e-12)
        self.assertGreater(enlarged, 0)
        self.assertLess(enlarged, 3 * TABLES)

    def test_lack_of_fit_by_the_analysis_of_variance(self):
        """Pure error as the scatter within the points, the rest of the residual sum of squares as lack of fit."""
        tested = 0
        for series, found in self.tables:
            x, y = self.all_readings(series)
            at = numpy.unique(x)
            pure = sum(numpy.sum((y[x == one] - numpy.mean(y[x == one])) ** 2) for one in at)
            for fit in [found.json["line"], *found.json["polynomials"]]:
                test, degree = fit["lack_of_fit"], fit.get("degree", 1)
                if len(series) == 1:
                    self.assertIsNone(test)
                    continue
                tested += 1
                curve = numpy.polynomial.Polynomial.fit(x, y, degree)
                lack = numpy.sum((y - curve(x)) ** 2) - pure
                dof, pure_dof = at.size - degree - 1, x.size - at.size
                self.assertEqual((test["lack_of_fit_degrees_of_freedom"], test["pure_error_degrees_of_freedom"]),
                                 (dof, pure_dof))
                f = lack / dof / (pure / pure_dof)
                numpy.testing.assert_allclose(test["pure_error"], pure, rtol=1e-6)
                numpy.testing.assert_allclose(test["f"], f, rtol=1e-5)
                numpy.testing.assert_allclose(test["p"], stats.f.sf(f, dof, pure_dof), rtol=1e-3, atol=1e-12)
        self.assertGreater(tested, 20)

    def test_references_of_readings_by_root_finding(self):
        """Brent's root of numpy's polynomial, and its u through the covariance of scaled coefficients."""
        random = numpy.random.default_rng(4913)
        found_any = 0
        for series, _ in self.tables[:12]:
            x, y = self.all_readings(series)
            low, high, size = numpy.min(x), numpy.max(x), numpy.max(numpy.abs(x))
            reading, u = random.uniform(numpy.min(y), numpy.max(y)), 1e-4 * numpy.ptp(y)
            found = Evaluated(text_of(series), None, options=["--inverse", f"{reading!r}:{u!r}"]).json
            for one in found["inverse"][0]["by"]:
                degree = one["degree"]
                design = numpy.vander(x / size, degree + 1, increasing=True)
                coefficients, *_ = numpy.linalg.lstsq(design, y, rcond=None)
                curve = numpy.polynomial.Polynomial(coefficients)
                if (curve(low / size) - reading) * (curve(high / size) - reading) > 0:
                    self.assertEqual(one["why"], "outside the range")
                    continue
                root = optimize.brentq(lambda p: curve(p / size) - reading, low, high, xtol=1e-14 * size)
                numpy.testing.assert_allclose(one["reference"], root, atol=1e-9 * size)
                variance = numpy.sum((y - curve(x / size)) ** 2) / (x.size - degree - 1)
                covariance = variance * numpy.linalg.inv(design.T @ design)
                powers = (root / size) ** numpy.arange(degree + 1)
                slope = curve.deriv()(root / size) / size
                numpy.testing.assert_allclose(one["standard_uncertainty"],
                                              numpy.sqrt(powers @ covariance @ powers + u**2) / abs(slope), rtol=1e-5)
                found_any += 1
        self.assertGreater(found_any, 20)

    def test_risks_by_integration(self):
        """Over the process's density: what of it is accepted, in and out of the permissible error."""
        random = numpy.random.default_rng(106)
        for _ in range(6):
            limit, u = random.uniform(1, 3), random.uniform(0.05, 1)
            accepted, mean, sd = random.uniform(0.3, 1.2) * limit, random.normal(0, 0.3), random.uniform(0.3, 1.5)
            found = Evaluated(table_of(rows(1, "up", [5], [5])), {
                "unit": "bar", "permissible_error": f"{limit!r} bar", "reference_uncertainty": {"u": f"{u!r} bar"},
                "risk": {"process": {"mean": f"{mean!r} bar", "sd": f"{sd!r} bar"},
                         "acceptance_limit": f"{accepted!r} bar"}}).json["risks"][0]

            def passes(deviation):
                return stats.norm.cdf((accepted - deviation) / u) - stats.norm.cdf((-accepted - deviation) / u)

            def over(low, high, weight):
                return integrate.quad(lambda d: stats.norm.pdf(d, mean, sd) * weight(d), low, high, epsabs=1e-13)[0]
            far = 12 * max(sd, u) + 5
            consumers = over(-far, -limit, passes) + over(limit, far, passes)
            producers = over(-limit, limit, lambda d: 1 - passes(d))
            self.assertAlmostEqual(found["consumers_risk"], consumers, places=9)
            self.assertAlmostEqual(found["producers_risk"], producers, places=9)
            self.assertAlmostEqual(found["accepted"], over(-far, far, passes), places=9)
            self.assertAlmostEqual(found["consumers_risk_of_accepted"], consumers / found["accepted"], places=8)
            self.assertAlmostEqual(found["producers_risk_of_rejected"], producers / (1 - found["accepted"]), places=8)

    def test_r_squared_and_f(self):
        for series, found in self.tables:
            x, y = self.all_readings(series)
            wanted = stats.linregress(x, y)
            line = found.json["line"]
            self.assertFalse(line["weighted"])
            self.assertIsNone(line["chi_squared"])
            numpy.testing.assert_allclose(line["r_squared"], wanted.rvalue**2, rtol=1e-12)
            numpy.testing.assert_allclose(line["f"], (wanted.slope / wanted.stderr) ** 2, rtol=1e-6)

    def test_linearity_by_linear_programming(self):
        for series, found in self.tables:
            x, y = self.means(series)
            linearity = found.json["line"]["linearity"]
            size = 1e-9 * numpy.ptp(y)
            ends = y[0] + (x - x[0]) * (y[-1] - y[0]) / (x[-1] - x[0])
            self.assertAlmostEqual(linearity["terminal"], numpy.max(numpy.abs(y - ends)), delta=size)
            self.assertAlmostEqual(linearity["independent"], least_band(x, y), delta=size)
            self.assertAlmostEqual(linearity["zero_based"], least_band(x, y, through_first=True), delta=size)

    def test_the_uncertainty_line_by_linear_programming(self):
        random = numpy.random.default_rng(7)
        for _ in range(8):
            x = numpy.linspace(0, 100, random.integers(3, 12))
            spread = random.uniform(0, 0.5, x.size)
            spread[0] = 0  # the zero deviation enters at every point
            found = Evaluated(table_of(rows(1, "up", x.tolist(), x.tolist()),
                                       rows(2, "down", x[::-1].tolist(), (x + spread)[::-1].tolist())),
                              {"unit": "bar", "resolution": "0.01 bar", "reference_uncertainty": {"u": "0.01 bar"}})
            p = numpy.array([one["reference"] for one in found.json["points"]])
            expanded = numpy.array([one["mean"]["expanded_uncertainty"] for one in found.json["points"]])
            line = found.json["uncertainty_line"]
            best = optimize.linprog([p.size, numpy.sum(p)], A_ub=-numpy.column_stack([numpy.ones_like(p), p]),
                                    b_ub=-expanded, bounds=[(None, None)] * 2, method="highs")
            over = line["a"] + line["b"] * p - expanded
            self.assertGreater(numpy.min(over), -1e-9)
            self.assertAlmostEqual(numpy.sum(line["a"] + line["b"] * p), best.fun, delta=1e-7)

    def test_probability_of_nonconformity_by_the_normal_distribution(self):
        for series, _ in self.tables[:6]:
            top = numpy.max(numpy.abs(series[0][0]))
            u, limit = 0.003 * top, 0.02 * top
            found = Evaluated(text_of(series[:1]), {
                "unit": "bar", "permissible_error": f"{limit!r} bar", "reference_uncertainty": {"u": f"{u!r} bar"}})
            for point in found.json["points"]:
                basis = point["up"] or point["down"]
                d = basis["deviation"]
                wanted = stats.norm.sf((limit - d) / u) + stats.norm.cdf((-limit - d) / u)
                self.assertAlmostEqual(basis["probability_outside"], wanted, places=9)
                self.assertAlmostEqual(basis["coverage_factor"], 2, places=9)
                self.assertIsNone(basis["degrees_of_freedom"])
                self.assertEqual(point["probability_outside"], basis["probability_outside"])


if __name__ == "__main__":
    unittest.main()
