"""Whatever the API answers is what its description says, through a whole run on the simulator."""
import json
import time
import unittest

from gateway.web import LiveView, ServedBench
from jsonschema import Draft202012Validator, RefResolver
from whole.bench_at_work import HIGH, LOW, now_us, quick_scenario, small_bench, wait_until
from whole.journal_in_python import Journal


def references(node):
    if isinstance(node, dict):
        if "$ref" in node:
            yield node["$ref"]
        node = list(node.values())
    if isinstance(node, list):
        for one in node:
            yield from references(one)


class Description:
    def __init__(self, document):
        self.document = document
        self.resolver = RefResolver("", document)
        self.validators = {}

    def check(self, schema, value, about):
        key = json.dumps(schema)
        if key not in self.validators:
            Draft202012Validator.check_schema(schema)
            self.validators[key] = Draft202012Validator(schema, resolver=self.resolver)
        wrong = [f"{about}: {'/'.join(map(str, error.absolute_path))}: {error.message[:300]}"
                 for error in self.validators[key].iter_errors(value)]
        assert not wrong, "\n".join(wrong[:10])

    def check_answer(self, path, method, answer, about):
        """The status, the type and the keys are described, and none beside them."""
        status, headers, body = answer
        responses = self.document["paths"][path][method]["responses"]
        assert str(status) in responses, f"{about}: {status} is not described: {body[:300]}"
        response = responses[str(status)]
        if "$ref" in response:
            response = self.resolver.resolve(response["$ref"])[1]
        kind = headers["Content-Type"].split(";")[0]
        assert kind in response["content"], f"{about}: {kind} is not described"
        schema = response["content"][kind].get("schema")
        if schema is not None:
            self.check(schema, json.loads(body) if kind.endswith("json") else body.decode(), about)
        return json.loads(body) if kind.endswith("json") else body


class OpenApi(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        bench = small_bench((LOW, HIGH), series=("up", "down"), instruments="BD")
        cls.bench = cls.enterClassContext(ServedBench(bench, quick_scenario(bench)))
        cls.bench.start_simulator()
        cls.bench.serve()
        cls.described = Description(cls.bench.json("/api/openapi.json"))

    def get(self, path, filled=None, **more):
        filled = filled or path
        return self.described.check_answer(path, "get", self.bench.ask(filled, **more), filled)

    def test_1_the_description_holds_together(self):
        document = self.described.document
        self.assertEqual(document["openapi"], "3.1.0")
        found = set(references(document))
        self.assertGreater(len(found), 15)
        for one in found:
            self.described.resolver.resolve(one)
        for name, schema in document["components"]["schemas"].items():
            Draft202012Validator.check_schema(schema)
            self.assertIn(f"#/components/schemas/{name}", found | {"#/components/schemas/FrameMessage"})

    def test_2_a_stranger_to_the_description_is_noticed(self):
        frame = self.get("/api/frame")
        with self.assertRaises(AssertionError):
            self.described.check({"$ref": "#/components/schemas/Frame"}, {**frame["frame"], "more": 1}, "frame")
        frame["frame"].pop("advice")
        with self.assertRaises(AssertionError):
            self.described.check({"$ref": "#/components/schemas/Frame"}, frame["frame"], "frame")

    def test_3_frames_of_a_whole_run(self):
        kinds, states = set(), set()
        with LiveView(self.bench.port, within_s=30) as view:
            until = time.monotonic() + 150
            while self.bench.simulator.poll() is None and time.monotonic() < until:
                message = {"frame": view.frame()}
                step, run = message["frame"]["step"], message["frame"]["run"]
                seen = (step and (step["kind"], step["wants"]), message["frame"]["float"]["state"], run and run["state"])
                # Every frame where something is new, and some of the others: checking takes longer than 50 ms.
                if seen not in states or message["frame"]["at_us"] % 8 == 0:
                    self.described.check({"$ref": "#/components/schemas/FrameMessage"}, message, "a live frame")
                states.add(seen)
                kinds.add(step["kind"] if step else None)
        self.assertEqual(self.bench.simulator.poll(), 0, "the run came to its end")
        self.assertLessEqual({"do", "load", "float", "read", "sight"}, kinds)

    def test_4_what_is_asked_after_it(self):
        bench = self.get("/api/bench")["bench"]
        self.assertEqual([one["name"] for one in bench["instruments"]], ["transmitter B", "dial gauge D"])
        run = self.get("/api/runs")["runs"][-1]
        self.assertEqual(run["state"], "finished")
        results = self.get("/api/runs/{run}", f"/api/runs/{run['id']}")["results"]
        self.assertEqual(len(results["marks"]), 8)
        self.assertEqual(len(results["evaluations"]), 2)
        for mark in results["marks"]:
            budget = self.get("/api/runs/{run}/budget", f"/api/runs/{run['id']}/budget?mark={mark['mark']}")["budget"]
            self.assertEqual(budget["channel"], mark["channel"])
            self.assertAlmostEqual(sum(line["share"] for line in budget["lines"]), 1, places=6)
        self.get("/api/runs/{run}/budget", f"/api/runs/{run['id']}/budget?mark=999")
        self.get("/api/runs/{run}/budget", f"/api/runs/{run['id']}/budget?mark=x")
        self.get("/api/runs/{run}", "/api/runs/none")

    def test_5_the_journal(self):
        seen, page = [], self.get("/api/events", "/api/events?from=0&limit=7")
        for _ in range(10_000):
            seen += [one["number"] for one in page["events"]]
            if page["later"] is None:
                break
            page = self.get("/api/events", f"/api/events?from={page['later']}&limit=50")
        events = Journal(self.bench.journal).events
        self.assertEqual(seen, [one["number"] for one in events][:len(seen)], "in order, none left out, none twice")
        self.assertGreater(len(seen), len(events) - 5, "what came meanwhile aside")
        marks = self.get("/api/events", "/api/events?kind=MarkTaken")["events"]
        self.assertEqual({one["kind"] for one in marks}, {"MarkTaken"})
        self.get("/api/events", "/api/events?kind=Nonsense")
        readings = self.get("/api/readings", "/api/readings?channel=transmitter%20B&last_s=60")["readings"]
        self.assertGreater(len(readings), 100)
        self.assertEqual(readings, sorted(readings))
        self.get("/api/readings", "/api/readings?channel=dial+gauge+D")
        self.get("/api/readings", "/api/readings?channel=transmitter+B&last_s=none")

    def test_6_presses_and_the_rest(self):
        def press(what, body):
            path = "/api/do/" + what
            return self.described.check_answer(path, "post", self.bench.ask(path, "POST", body), path)

        self.assertEqual(press("health", {"range": "low", "spin_time": "5 min"}), {"ok": True})
        self.assertEqual(len(self.get("/api/balance-health")["health"]), 1)
        for what in [path.split("/")[-1] for path in self.described.document["paths"] if path.startswith("/api/do/")]:
            self.assertEqual(press(what, "{")["code"], "bad_request")
            self.assertIn("code", press(what, {"pressed_us": now_us() - 10_000_000, "step": -1, "range": "none",
                                               "sequence": "none", "channel": "none", "untapped": "1 bar", "tapped": "1 bar",
                                               "mark": -1, "reason": "test"}))
        self.get("/api/session")
        self.assertIn(b"stillmark_channel_value{", self.get("/metrics"))
        self.get("/page/{name}", "/page/style.css")
        self.get("/page/{name}", "/page/none.css")
        self.get("/api/live")
        for path, methods in self.described.document["paths"].items():
            if "get" in methods:
                self.get(path, path.replace("{", "").replace("}", ""), headers={"Host": "evil.example"})

    def test_7_a_service_whose_journal_is_gone_says_so(self):
        moved = self.bench.journal.with_suffix(".moved")
        wait_until(lambda: self.bench.journal.exists(), 5, "the journal stands there")
        self.bench.journal.rename(moved)
        try:
            said = self.get("/api/events")
            self.assertIn(self.bench.journal.name, said["detail"])
        finally:
            moved.rename(self.bench.journal)


if __name__ == "__main__":
    unittest.main()
