"""The pressure of a liquid pressure balance once more, from its published forms and in plain python.

Gauge mode (R. Lewisch, Bulletin de l'OIML 128 (1992), "The pressure balance"); density of moist air after CIPM-2007
(A. Picard et al., Metrologia 45 (2008) 149), R = 8.314472; conventional mass as defined by OIML D 28. The file is read
here a second time too: what a bench file's texts mean is written down again, for the units that the demo bench uses.
"""
import copy
import math
import re

UNITS = {"": 1, "kg": 1, "mg": 1e-6, "kg/m3": 1, "mm2": 1e-6, "ppm": 1e-6, "1/K": 1, "1/Pa": 1, "1/MPa": 1e-6, "mm": 1e-3,
         "m": 1, "mrad": 1e-3, "mN/m": 1e-3, "m/s2": 1, "hPa": 100, "Pa": 1, "bar": 1e5, "%": 0.01, "degC": 1, "K": 1}
STANDARD_GRAVITY = 9.80665


def quantity(text):
    number, unit = re.fullmatch(r"\s*([-+0-9.eE]+)\s*(\S*)\s*", text).groups()
    return float(number) * UNITS[unit]


def stated(node):
    """(estimate, standard uncertainty) of a text or of an object with its uncertainty."""
    if isinstance(node, str):
        return quantity(node), 0.0
    value = quantity(node["value"]) if "value" in node else 0.0

    def width(text):
        is_relative = text.split()[-1] in ("ppm", "%") and value != 0 and not node.get("value", "").endswith("%")
        return quantity(text) * (abs(value) if is_relative else 1)

    if "u" in node:
        return value, width(node["u"])
    if "U" in node:
        return value, width(node["U"]) / node["k"]
    return value, width(node["limits"]) / math.sqrt(3)


def moist_air_kg_m3(t_c, p_pa, humidity):
    t_k = t_c + 273.15
    saturation = math.exp(1.2378847e-5 * t_k**2 - 1.9121316e-2 * t_k + 33.93711047 - 6.3431645e3 / t_k)
    vapour = humidity * (1.00062 + 3.14e-8 * p_pa + 5.6e-7 * t_c**2) * saturation / p_pa
    virial = (1.58123e-6 - 2.9331e-8 * t_c + 1.1043e-10 * t_c**2 + (5.707e-6 - 2.051e-8 * t_c) * vapour
              + (1.9898e-4 - 2.376e-6 * t_c) * vapour**2)
    z = 1 - p_pa / t_k * virial + (p_pa / t_k)**2 * (1.83e-11 - 0.765e-8 * vapour**2)
    return p_pa * 28.96546e-3 / (z * 8.314472 * t_k) * (1 - vapour * (1 - 18.01528e-3 / 28.96546e-3))


class Balance:
    """One load on one range of a bench, with every input by its name and its standard uncertainty beside it."""

    def __init__(self, bench, range_name, discs, instrument, air=None, piston_c=None):
        balance, self.masses = bench["balance"], []
        self.range = next(one for one in balance["ranges"] if one["name"] == range_name)
        self.values, self.u, self.groups = {}, {}, []
        for key in ("area", "area_drift", "thermal_expansion", "distortion", "circumference"):
            self.put(key, self.range[key])
        liquid = balance["liquid"]
        self.put("liquid", liquid["density"])
        self.put("surface_tension", liquid["surface_tension"])
        self.put("gravity", bench["site"]["gravity"])
        self.liquid = {key: quantity(liquid[key]) for key in ("reference_temperature", "expansion", "compressibility")}
        self.reference_c = quantity(self.range["reference_temperature"])
        # A tilt that is zero but for its limits a: the mean of 1 - cos is u^2/2, u = a/sqrt(3), to second order; the
        # variance of theta^2/2 is that of a rectangular distribution, (9/5 - 1) u^4/4.
        u_tilt = stated(self.range["tilt"])[1]
        self.values["tilt_loss"], self.u["tilt_loss"] = u_tilt**2 / 2, math.sqrt((9 / 5 - 1) / 4) * u_tilt**2
        level = self.range["reference_level"]
        self.values["level"], self.u["level"] = quantity(level["above_mark"]), quantity(level["u"])
        self.values["float_height"], self.u["float_height"] = 0.0, quantity(self.range["float_band"]) / 2 / math.sqrt(3)
        words = instrument["instrument_level"].split()
        self.values["head"] = quantity(" ".join(words[:2])) * {"below": 1, "above": -1}[words[2]]
        self.u["head"] = quantity(instrument["level_u"])
        surroundings = bench["surroundings"]
        for key in ("air_temperature", "air_pressure", "humidity", "piston_temperature"):
            self.put(key, surroundings[key])
        if air:
            self.values.update(air_temperature=air[0], air_pressure=air[1], humidity=air[2])
        if piston_c is not None:
            self.values["piston_temperature"] = piston_c
        self.values["air_equation"], self.u["air_equation"] = 0.0, 22e-6
        for part in self.range["floating_parts"]:
            self.put_mass("part " + part["name"], part["mass"], part["density"], False)
        one_certificate = ([], [])
        for disc in discs:
            node = next(one for one in bench["masses"]["discs"] if one["id"] == disc)
            self.put_mass(disc, node["mass"], bench["masses"]["density"], True)
            one_certificate[0].append(f"mass {disc}")
            one_certificate[1].append(f"density {disc}")
        grouped = {name for group in one_certificate for name in group}
        self.groups = [group for group in one_certificate if group]
        self.groups += [[name] for name in self.values if name not in grouped]

    def put(self, name, node):
        self.values[name], self.u[name] = stated(node)

    def put_mass(self, name, mass, density, conventional):
        self.put(f"mass {name}", mass)
        self.put(f"density {name}", density)
        self.masses.append((name, conventional))

    def liquid_kg_m3(self, v, p):
        return (v["liquid"] * (1 - self.liquid["expansion"] * (v["piston_temperature"] - self.liquid["reference_temperature"]))
                * (1 + self.liquid["compressibility"] * p))

    def air_kg_m3(self, v):
        return moist_air_kg_m3(v["air_temperature"], v["air_pressure"], v["humidity"]) * (1 + v["air_equation"])

    def area_m2(self, v, p):
        return (v["area"] * (1 + v["area_drift"]) * (1 + v["thermal_expansion"] * (v["piston_temperature"] - self.reference_c))
                * (1 + v["distortion"] * p))

    def at_balance_pa(self, v=None):
        v = v or self.values
        air = self.air_kg_m3(v)
        held_kg = []
        for name, conventional in self.masses:
            mass, density = v[f"mass {name}"], v[f"density {name}"]
            if conventional:
                mass *= (1 - 1.2 / 8000) / (1 - 1.2 / density)
            held_kg.append(mass * (1 - air / density))
        force = math.fsum(held_kg) * v["gravity"] * (1 - v["tilt_loss"]) + v["surface_tension"] * v["circumference"]
        p = force / self.area_m2(v, 0)
        for _ in range(50):  # the distortion is small: each round gains more than three digits
            p = force / self.area_m2(v, p)
        return p

    def at_instrument_pa(self, v=None):
        v = v or self.values
        p = self.at_balance_pa(v)
        height = v["level"] + v["float_height"] + v["head"]
        return p + (self.liquid_kg_m3(v, p) - self.air_kg_m3(v)) * v["gravity"] * height

    def nominal_pa(self):
        """Stated masses, standard gravity, A_0, no air: what the discs would be worth without any correction."""
        return (math.fsum(self.values[f"mass {name}"] for name, _ in self.masses) * STANDARD_GRAVITY / self.values["area"])

    def u_pa(self):
        """By central differences; what comes of one certificate is moved together."""
        total = 0.0
        for group in self.groups:
            moved = []
            for sign in (1, -1):
                v = copy.copy(self.values)
                for name in group:
                    v[name] += sign * self.u[name]
                moved.append(self.at_instrument_pa(v))
            total += ((moved[0] - moved[1]) / 2)**2
        return math.sqrt(total)
