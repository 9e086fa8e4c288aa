"""Deliberate faults of what browsers are refused, and of how the service is kept from being flooded."""
import unittest

from faults import fault
from faults.fault import Fault

SITE, MESSAGE, ROUTES = "daemon/gateway/same_site.cpp", "daemon/gateway/http_message.cpp", "daemon/gateway/http_routes.cpp"
LOOKS, FILES, LOG_IN = "daemon/gateway/looks.cpp", "daemon/gateway/page_files.cpp", "daemon/gateway/log_in.cpp"


CLAIMS, CLAIMS_TEST = "daemon/gateway/certificate_claims.hpp", ["tests/gateway/certificate_office_test.cpp"]


class Gateway(fault.Faults):
    FAULTS = [
        Fault("a certificate request keeps its place for ever", CLAIMS, "--in_work_->count;", "", "gateway", "Certificate*", CLAIMS_TEST),
        Fault("a certificate stays busy for ever", CLAIMS, "if (!number_.empty()) in_work_->numbers.erase(number_);", "", "gateway",
              "Certificate*", CLAIMS_TEST),
        Fault("who was refused a number gives it back", CLAIMS, "if (!in_work_->numbers.insert(number).second) return false;",
              "number_ = number;\n            if (!in_work_->numbers.insert(number).second) return false;", "gateway",
              "CertificateClaims.*", CLAIMS_TEST),
        Fault("certificate requests without a bound", CLAIMS, "return in_work_->count < most ?", "return true ?", "gateway",
              "CertificateClaims.*", CLAIMS_TEST),
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
        Fault("a body's name signs where somebody is logged in", ROUTES,
              '        (*keys)["by"] = ground', '        if (!keys->contains("by")) (*keys)["by"] = ground', "gateway", "LogIn.APress*"),
        Fault("a body says itself that a password was given", ROUTES, '    keys->erase("logged_in");\n', "", "gateway", "Routes.LeadTo*"),
        Fault("what may not be done is done", ROUTES, "return *refused;\n        }\n        return one.go",
              "(void)refused;\n        }\n        return one.go", "gateway", "LogIn.AReviewer*"),
        Fault("the end of another cookie's name is ours", LOG_IN, "!one.starts_with(cookie_name_) || ", "", "gateway",
              "LogIn.OnlyTheRight*"),
        Fault("a planted cookie keeps its owner out", LOG_IN, "constexpr std::size_t most_cookies = 4;",
              "constexpr std::size_t most_cookies = 1;", "gateway", "LogIn.OnlyTheRight*"),
        Fault("the cookie travels without TLS", LOG_IN, 'tls_ ? "; Secure" : ""', '""', "gateway", "LogIn.UnderTls*"),
        Fault("every address of a machine is a place", LOG_IN, "network_v6(plain, 64)", "network_v6(plain, 128)", "gateway",
              "LogIn.AMachine*"),
        Fault("a session is left behind by the next", LOG_IN,
              "for (const auto& key : before)\n                reception_.log_out(key);", "(void)before;", "gateway",
              "LogIn.AnotherLogIn*"),
        Fault("the deciding thread gets no rest", LOOKS, "now_us + std::clamp<Micros>(now_us - asked_us_, 0, longest_rest_us)",
              "now_us + std::clamp<Micros>(0, 0, longest_rest_us)", "gateway", "Looks.*"),
        Fault("questions wait without end", LOOKS, "if (waiting_.size() == most_waiting) return false;", "", "gateway", "Looks.*"),
        Fault("packed bytes under the tag of plain ones", FILES, 'packed ? "-gzip" : ""', 'packed ? "" : ""', "gateway",
              "PageFiles.*"),
    ]


if __name__ == "__main__":
    unittest.main()
