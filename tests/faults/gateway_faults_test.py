"""Deliberate faults of what browsers are refused, and of how the service is kept from being flooded."""
import unittest

from faults import fault
from faults.fault import Fault

SITE, MESSAGE, ROUTES = "daemon/gateway/same_site.cpp", "daemon/gateway/http_message.cpp", "daemon/gateway/http_routes.cpp"
LOOKS, FILES = "daemon/gateway/looks.cpp", "daemon/gateway/page_files.cpp"


class Gateway(fault.Faults):
    FAULTS = [
        Fault("any name is this service's", SITE, '*host != "localhost" && !is_address(*host)', "false && !is_address(*host)",
              "gateway", "SameSite.*"),
        Fault("a name that begins as ours is ours", SITE, "std::ranges::find(names, *host) == names.end()",
              "!host->starts_with(names.empty() ? *host : names.front())", "gateway", "SameSite.*"),
        Fault("pages of others may press", SITE, "if (!changes || request.headers.count", "if (true || request.headers.count",
              "gateway", "SameSite.*"),
        Fault("an origin without TLS is as good", SITE, '(tls ? "https://" : "http://")', '"http://"', "gateway", "SameSite.*"),
        Fault("dots lead upwards", MESSAGE, '*part == ".." ||', "", "gateway", "HttpTarget.*"),
        Fault("a slash in disguise is part of a name", MESSAGE, 'part->find_first_of("/\\\\") != std::string::npos',
              'part->find_first_of("\\\\") != std::string::npos', "gateway", "HttpTarget.*"),
        Fault("characters written longer than need be", MESSAGE, "point < least[more] ||", "", "gateway", "HttpTarget.*"),
        Fault("a form may press", ROUTES, 'if (type.substr(0, type.find(\';\')) != "application/json")', "if (type.empty())",
              "gateway", "Routes.*"),
        Fault("a body's name signs where somebody is logged in", ROUTES, '(*keys)["by"] = who->name;', "(void)who;", "gateway",
              "Routes.*"),
        Fault("what may not be done is done", ROUTES, "return *refused;\n        return one.go",
              "(void)refused;\n        return one.go", "gateway", "Routes.*"),
        Fault("the deciding thread gets no rest", LOOKS, "now_us + std::clamp<Micros>(now_us - asked_us_, 0, longest_rest_us)",
              "now_us + std::clamp<Micros>(0, 0, longest_rest_us)", "gateway", "Looks.*"),
        Fault("questions wait without end", LOOKS, "if (waiting_.size() == most_waiting) return false;", "", "gateway", "Looks.*"),
        Fault("packed bytes under the tag of plain ones", FILES, 'packed ? "-gzip" : ""', 'packed ? "" : ""', "gateway",
              "PageFiles.*"),
    ]


if __name__ == "__main__":
    unittest.main()
