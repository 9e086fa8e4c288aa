"""The certificates of a run on its page: what lacks, particulars, a draft, a signature, the documents."""
import unittest

from browser.tablet import REFUSED, Tablet, wait_until
from gateway.web import ServedBench
from whole.bench_at_work import LOW, quick_scenario, small_bench

REVIEWER = "R. Reviewer (invented)"


class Certificates(unittest.TestCase):
    def test_from_a_run_to_its_signed_certificate(self):
        bench = small_bench((LOW,), series=("up", "down"), instruments="A")
        at_work = self.enterContext(ServedBench(bench, quick_scenario(bench)))
        at_work.start_simulator()
        at_work.serve()
        at_work.wait_for_run(120)
        tablet = self.enterContext(Tablet(at_work.url.geturl().rstrip("/"))).open(view="run/R1")

        def words():
            return tablet.text("view-run")

        def click(label):
            wait_until(lambda: tablet.run(
                "const one = [...document.querySelectorAll('#view-run button')].find((b) => b.textContent === arguments[0]);"
                "one?.click(); return Boolean(one);", label), 10, f"there is a button {label}")

        def fill(**values):
            for label, value in values.items():
                tablet.run("const field = [...document.querySelectorAll('#dialog label')]"
                           ".find((l) => l.textContent.startsWith(arguments[0])).querySelector('input');"
                           "field.value = arguments[1];", label, value)
            tablet.tap("#dialog button[type=submit]")

        wait_until(lambda: "Certificates" in words(), 10, "the page of the run has its certificates")
        click("Draft")
        wait_until(lambda: "the customer of run R1 is not stated" in words(), 20, "the draft says what lacks")
        self.assertFalse(tablet.run("return [...document.querySelectorAll('#view-run button')].some((b) => b.textContent === 'Sign')"))
        click("State customer and order")
        fill(Customer="Invented Works", Address="Customer Lane 2, 00000 Nowhere", Country="DE", Order="INV-77")
        wait_until(lambda: "is not stated" not in words(), 20, "nothing lacks any more")
        click("Draft again")
        wait_until(lambda: "is drafted" in str(tablet.said()[-1:]), 20, "it is drafted again")
        tablet.run("[...document.querySelectorAll('#view-run h2')].find((h) => h.textContent === 'Certificates').scrollIntoView()")
        tablet.shots("certificates")
        click("Sign")
        fill(**{"Your name": REVIEWER})
        wait_until(lambda: f"signed by {REVIEWER}" in words(), 20, "the signature stands on the page")
        links = tablet.run("return [...document.querySelectorAll('#view-run a')].map((a) => a.getAttribute('href'))"
                           ".filter((h) => h.startsWith('/api/certificates/'))")
        self.assertEqual(len(links), 7)
        for link in links:
            status, headers, body = at_work.ask(link)
            self.assertEqual(status, 200, link)
            self.assertGreater(len(body), 60)
            if link.endswith(".pdf"):
                self.assertEqual((headers["Content-Type"], body[:5]), ("application/pdf", b"%PDF-"))
        status, _, body = at_work.ask(links[0].rsplit("/", 1)[0] + "/other.pdf")
        self.assertEqual(status, 404, body)
        self.assertEqual(tablet.console_errors(allowed=REFUSED), [])


if __name__ == "__main__":
    unittest.main()
