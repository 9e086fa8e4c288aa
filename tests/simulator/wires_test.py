"""The simulator's wires, seen by clients that others wrote (mbpoll, pymodbus), and by bare sockets and terminals."""

import os
import re
import select
import socket
import struct
import subprocess
import termios
import time
import tty
import unittest

from pymodbus.client import ModbusSerialClient, ModbusTcpClient

from running_simulator import Simulator


def crc(data):
    value = 0xFFFF
    for byte in data:
        value ^= byte
        for _ in range(8):
            value = value >> 1 ^ 0xA001 if value & 1 else value >> 1
    return struct.pack("<H", value)


REQUEST = b"\x07\x04\x00\x00\x00\x02" + crc(b"\x07\x04\x00\x00\x00\x02")
ANSWER_SIZE = 9
CHARACTER = 11 / 38400


class Terminal:
    """The device that a service would open."""

    def __init__(self, path):
        self.fd = os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
        tty.setraw(self.fd, termios.TCSANOW)

    def __enter__(self):
        return self

    def __exit__(self, *unused):
        os.close(self.fd)

    def exchange(self, request, size, within=0.5):
        """Bytes of the answer with the instants at which they came, counted from before the request was written: however
        late a busy machine comes back from that, no answer can seem early."""
        sent = time.monotonic()
        os.write(self.fd, request)
        got, instants = b"", []
        while len(got) < size and time.monotonic() - sent < within:
            if not select.select([self.fd], [], [], 0.01)[0]:
                continue
            try:
                more = os.read(self.fd, 256)
            except OSError:
                break
            if not more:
                break
            got += more
            instants += [time.monotonic() - sent] * len(more)
        return got, instants


def mbpoll(*words):
    done = subprocess.run(["mbpoll", "-1", "-0", *words], capture_output=True, text=True, timeout=20, check=False)
    return done.stdout + done.stderr


class Clean(unittest.TestCase):
    """Wires without a fault."""

    @classmethod
    def setUpClass(cls):
        cls.simulator = Simulator()

    @classmethod
    def tearDownClass(cls):
        cls.simulator.stop()

    def settled_bar(self, name):
        return float(self.simulator.truth()[-1][f"settled_pa {name}"]) / 1e5

    def test_mbpoll_reads_tcp(self):
        out = mbpoll("-m", "tcp", "-p", str(self.simulator.modbus_port), "-a", "1", "-r", "100", "-c", "1", "-t", "4:int", "-B", "127.0.0.1")
        value = float(re.search(r"\[100\]:\s+(-?[0-9]+)", out).group(1)) * 0.001
        self.assertAlmostEqual(value, self.settled_bar("transmitter B"), delta=0.02)

    def test_mbpoll_reads_rtu_over_the_terminal(self):
        out = mbpoll("-m", "rtu", "-b", "38400", "-P", "even", "-a", "7", "-r", "0", "-c", "1", "-t", "3:float", self.simulator.device)
        value = float(re.search(r"\[0\]:\s+(\S+)", out).group(1))
        self.assertAlmostEqual(value, self.settled_bar("transmitter A"), delta=0.02)

    def test_mbpoll_is_told_of_wrong_addresses(self):
        out = mbpoll("-m", "tcp", "-p", str(self.simulator.modbus_port), "-a", "1", "-r", "101", "-c", "2", "-t", "4", "127.0.0.1")
        self.assertIn("Illegal data address", out)
        out = mbpoll("-m", "rtu", "-b", "38400", "-P", "even", "-a", "7", "-r", "0", "-c", "1", "-t", "0", self.simulator.device)
        self.assertIn("Illegal function", out)

    def test_pymodbus_reads_tcp(self):
        client = ModbusTcpClient("127.0.0.1", port=self.simulator.modbus_port)
        self.assertTrue(client.connect())
        reply = client.read_holding_registers(100, 2, slave=1)
        value = struct.unpack(">i", struct.pack(">HH", *reply.registers))[0] * 0.001
        self.assertAlmostEqual(value, self.settled_bar("transmitter B"), delta=0.02)
        self.assertEqual(client.read_holding_registers(99, 1, slave=1).exception_code, 2)
        self.assertEqual(client.read_coils(0, 1, slave=1).exception_code, 1)
        self.assertEqual(client.read_holding_registers(100, 2, slave=9).exception_code, 11)
        client.close()

    def test_pymodbus_reads_rtu(self):
        # A pseudo-terminal has no parity; pyserial, unlike others, takes it amiss that it cannot be set.
        client = ModbusSerialClient(self.simulator.device, baudrate=38400, parity="N", stopbits=1, timeout=1)
        self.assertTrue(client.connect())
        for _ in range(5):
            reply = client.read_input_registers(0, 5, slave=7)
            low, high = reply.registers[:2]
            value = struct.unpack(">f", struct.pack(">HH", high, low))[0]
            self.assertAlmostEqual(value, self.settled_bar("transmitter A"), delta=0.02)
            self.assertEqual(reply.registers[4], 0)
        client.close()

    def test_another_server_on_the_line_stays_silent(self):
        with Terminal(self.simulator.device) as terminal:
            self.assertEqual(terminal.exchange(b"\x08\x04\x00\x00\x00\x02" + crc(b"\x08\x04\x00\x00\x00\x02"), 1, 0.1)[0], b"")
            self.assertEqual(terminal.exchange(REQUEST[:-1] + b"\x00", 1, 0.1)[0], b"")
            self.assertEqual(len(terminal.exchange(REQUEST, ANSWER_SIZE)[0]), ANSWER_SIZE)

    def test_a_wrong_header_closes_the_connection(self):
        with socket.create_connection(("127.0.0.1", self.simulator.modbus_port)) as client:
            client.settimeout(1)
            client.sendall(b"\x00\x01\x00\x07\x00\x06\x01\x03\x00\x64\x00\x02")
            try:
                self.assertEqual(client.recv(100), b"")
            except ConnectionResetError:
                pass  # closed with the rest of the frame unread

    def test_text(self):
        with socket.create_connection(("127.0.0.1", self.simulator.text_port)) as client:
            client.settimeout(1)
            client.sendall(b"PRES?\r\n")
            line = client.recv(100)
            self.assertRegex(line, rb"^\s*-?[0-9]+\.[0-9]{2} bar\r\n$")
            client.sendall(b"what?\r\n")
            self.assertEqual(client.recv(100), b"ERR\r\n")

    def test_no_byte_comes_before_its_bits(self):
        # Request 8 characters, silence 1.75 ms, turn-round of the scenario 3 ms, then each byte of the answer.
        begins = 8 * CHARACTER + max(1.75e-3, 3e-3)
        latest = []
        with Terminal(self.simulator.device) as terminal:
            for _ in range(40):
                got, instants = terminal.exchange(REQUEST, ANSWER_SIZE)
                self.assertEqual(len(got), ANSWER_SIZE)
                self.assertEqual(got[-2:], crc(got[:-2]))
                for index, instant in enumerate(instants):
                    self.assertGreater(instant, begins + (index + 1) * CHARACTER - 0.1e-3)
                latest.append(instants[-1])
                time.sleep(0.003)
        # and on a quiet machine it is not much later either
        self.assertLess(sorted(latest)[len(latest) // 4], begins + ANSWER_SIZE * CHARACTER + 2e-3)

    def test_a_slow_line_is_slow(self):
        with Simulator(bench_text=lambda text: text.replace("38400", "1200")) as slow, Terminal(slow.device) as terminal:
            got, instants = terminal.exchange(REQUEST, ANSWER_SIZE, 1)
            self.assertEqual(len(got), ANSWER_SIZE)
            character = 11 / 1200
            self.assertGreater(instants[-1], (8 + 3.5 + ANSWER_SIZE) * character - 1e-3)
            self.assertLess(instants[-1], (8 + 3.5 + ANSWER_SIZE) * character + 0.1)
            for index, instant in enumerate(instants):
                self.assertGreater(instant, (8 + 3.5 + index + 1) * character - 1e-3)

    def test_too_short_a_silence_is_counted(self):
        def short_silences(pause_s, exchanges):
            with Simulator() as fresh:
                with Terminal(fresh.device) as terminal:
                    for _ in range(exchanges):
                        terminal.exchange(REQUEST, ANSWER_SIZE)
                        time.sleep(pause_s)
                line = fresh.stop()["buses"]["line A"]
            self.assertEqual(line["answers"], exchanges)
            return line["short_silences"]

        self.assertEqual(short_silences(0.02, 5), 0)
        # Between two requests a busy machine may pause for longer than the silence; between fifty it does not each time.
        self.assertGreater(short_silences(0, 50), 0)


class Faulty(unittest.TestCase):
    """Every verb, seen from the other end of the wire."""

    def rtu(self, fault, request=REQUEST, size=ANSWER_SIZE, within=0.4):
        fault = {"instrument": "transmitter A", **fault}
        with Simulator({"faults": [fault]}) as simulator, Terminal(simulator.device) as terminal:
            return terminal.exchange(request, size, within)

    def tcp(self, fault, size=13, within=0.4):
        fault = {"instrument": "transmitter B", **fault}
        with Simulator({"faults": [fault]}) as simulator:
            with socket.create_connection(("127.0.0.1", simulator.modbus_port)) as client:
                client.sendall(b"\x12\x34\x00\x00\x00\x06\x01\x03\x00\x64\x00\x02")
                sent, got, instants = time.monotonic(), b"", []
                while len(got) < size and time.monotonic() - sent < within:
                    if select.select([client], [], [], 0.01)[0]:
                        more = client.recv(100)
                        if not more:
                            break
                        got += more
                        instants += [time.monotonic() - sent] * len(more)
                return got, instants

    def test_silence(self):
        self.assertEqual(self.rtu({"what": "silence"}, within=0.2)[0], b"")
        self.assertEqual(self.tcp({"what": "silence"}, within=0.2)[0], b"")

    def test_late(self):
        for got, instants in (self.rtu({"what": "late", "by": "120 ms"}), self.tcp({"what": "late", "by": "120 ms"})):
            self.assertGreater(len(got), 8)
            self.assertGreater(instants[0], 0.12)
            self.assertLess(instants[0], 0.3)

    def test_byte_by_byte(self):
        for got, instants in (self.rtu({"what": "byte by byte", "by": "10 ms"}), self.tcp({"what": "byte by byte", "by": "10 ms"})):
            self.assertGreater(len(got), 8)
            self.assertGreater(instants[-1] - instants[0], 0.01 * (len(got) - 1) - 0.005)
            # A busy machine lets some bytes arrive together; all at once they never do.
            self.assertGreater(len(set(instants)), 3)

    def test_garbage(self):
        got = self.rtu({"what": "garbage"})[0]
        self.assertEqual(len(got), ANSWER_SIZE)
        self.assertNotEqual(got[0], 7)
        self.assertNotEqual(got[1], 4)
        self.assertNotEqual(got[2], 4)
        self.assertNotEqual(self.tcp({"what": "garbage"})[0][:2], b"\x12\x34")

    def test_bad_checksum(self):
        got = self.rtu({"what": "bad checksum"})[0]
        self.assertEqual(got[:3], b"\x07\x04\x04")
        self.assertNotEqual(got[-2:], crc(got[:-2]))

    def test_wrong_address(self):
        got = self.rtu({"what": "wrong address"})[0]
        self.assertEqual((got[0], got[-2:]), (8, crc(got[:-2])))
        self.assertEqual(self.tcp({"what": "wrong address"})[0][6], 2)

    def test_wrong_count(self):
        got = self.rtu({"what": "wrong count"}, size=7)[0]
        self.assertEqual((len(got), got[2], got[-2:]), (7, 2, crc(got[:-2])))
        got = self.tcp({"what": "wrong count"}, size=11)[0]
        self.assertEqual((len(got), got[5], got[8]), (11, 5, 2))

    def test_exception(self):
        got = self.rtu({"what": "exception", "code": 6}, size=5)[0]
        self.assertEqual(got, b"\x07\x84\x06" + crc(b"\x07\x84\x06"))
        self.assertEqual(self.tcp({"what": "exception"}, size=9)[0][7:], b"\x83\x04")

    def test_each_second_answer(self):
        fault = {"what": "exception", "instrument": "transmitter A", "every": 2}
        with Simulator({"faults": [fault]}) as simulator, Terminal(simulator.device) as terminal:
            functions = [terminal.exchange(REQUEST, ANSWER_SIZE, 0.05)[0][1] for _ in range(4)]
            self.assertEqual(functions, [4, 0x84, 4, 0x84])

    def test_wrong_word_order(self):
        right = self.rtu({"what": "noise", "size": "1 Pa", "from": "100 s"})[0][3:7]
        wrong = self.rtu({"what": "wrong word order"})[0][3:7]
        value = struct.unpack(">f", wrong[0:4])[0]
        self.assertLess(abs(value), 10)
        self.assertNotEqual(struct.unpack(">f", right[2:4] + right[0:2]), struct.unpack(">f", wrong[2:4] + wrong[0:2]))

    def values(self, changes, count=60):
        with Simulator(changes) as simulator, Terminal(simulator.device) as terminal:
            all_values = []
            for _ in range(count):
                got = terminal.exchange(REQUEST, ANSWER_SIZE)[0]
                all_values.append(struct.unpack(">f", got[5:7] + got[3:5])[0])
                time.sleep(0.012)
            return all_values

    def test_stuck_value(self):
        self.assertGreater(len(set(self.values({}, 20))), 1)
        self.assertEqual(len(set(self.values({"faults": [{"what": "stuck value", "instrument": "transmitter A"}]}, 20))), 1)

    def test_noise(self):
        def spread(values):
            mean = sum(values) / len(values)
            return (sum((value - mean) ** 2 for value in values) / len(values)) ** 0.5
        self.assertLess(spread(self.values({})), 0.01)
        noisy = spread(self.values({"faults": [{"what": "noise", "instrument": "transmitter A", "size": "1 bar"}]}))
        self.assertGreater(noisy, 0.5)
        self.assertLess(noisy, 2)

    def test_own_report(self):
        request = b"\x07\x04\x00\x00\x00\x05"
        got = self.rtu({"what": "own report", "means": "over_range"}, request + crc(request), 15)[0]
        self.assertEqual(got[11:13], b"\x00\x20")
        got = self.tcp({"what": "own report", "means": "under_range"})[0]
        self.assertEqual(got[9:13], b"\x80\x00\x00\x00")

    def test_tcp_disconnect_and_return(self):
        fault = {"what": "disconnect", "bus": "line B", "from": "0.5 s", "for": "0.5 s"}
        with Simulator({"faults": [fault]}) as simulator:
            client = socket.create_connection(("127.0.0.1", simulator.modbus_port))
            client.settimeout(2)
            self.assertEqual(client.recv(10), b"")
            client.close()
            with self.assertRaises(OSError):
                socket.create_connection(("127.0.0.1", simulator.modbus_port)).close()
            time.sleep(0.7)
            socket.create_connection(("127.0.0.1", simulator.modbus_port)).close()

    def test_adapter_pulled_and_plugged(self):
        fault = {"what": "disconnect", "instrument": "transmitter A", "from": "0.5 s", "for": "0.5 s"}
        with Simulator({"faults": [fault]}) as simulator:
            with Terminal(simulator.device) as terminal:
                self.assertEqual(len(terminal.exchange(REQUEST, ANSWER_SIZE)[0]), ANSWER_SIZE)
                time.sleep(0.6)
                with self.assertRaises(OSError):
                    os.write(terminal.fd, REQUEST)
                self.assertFalse(os.path.lexists(simulator.device))
            time.sleep(0.6)
            with Terminal(simulator.device) as terminal:
                self.assertEqual(len(terminal.exchange(REQUEST, ANSWER_SIZE)[0]), ANSWER_SIZE)

    def test_text_faults(self):
        def line(what):
            fault = {"what": what, "instrument": "digital gauge C"}
            with Simulator({"faults": [fault]}) as simulator:
                with socket.create_connection(("127.0.0.1", simulator.text_port)) as client:
                    client.settimeout(0.3)
                    client.sendall(b"PRES?\r\n")
                    try:
                        return client.recv(100)
                    except TimeoutError:
                        return b""
        self.assertEqual(line("silence"), b"")
        self.assertEqual(line("own report"), b"ERR\r\n")
        self.assertNotIn(b"bar", line("garbage"))


class Ending(unittest.TestCase):
    """What is left when the simulator ends."""

    def test_link_is_gone_and_truth_is_whole(self):
        simulator = Simulator({}, options=("--no-operator", "--seed", "9"))
        time.sleep(0.5)
        summary = simulator.stop()
        self.assertEqual(simulator.process.returncode, 0)
        self.assertFalse(os.path.lexists(simulator.device))
        self.assertEqual(summary["seed"], 9)
        rows = simulator.truth()
        self.assertGreater(len(rows), 15)
        steps = [int(b["boottime_us"]) - int(a["boottime_us"]) for a, b in zip(rows, rows[1:])]
        self.assertLess(abs(sorted(steps)[len(steps) // 2] - 20000), 1000)
        # Vented: oil at the balance's level without pressure, so a lower instrument sees its head.
        self.assertAlmostEqual(float(rows[-1]["pressure_pa transmitter A"]), 865 * 9.807 * 0.085, delta=40)

    def test_a_mistaken_scenario_is_refused(self):
        simulator = Simulator({"faults": [{"what": "sneeze", "instrument": "transmitter A"}]})
        simulator.stop()
        self.assertEqual(simulator.process.returncode, 2)
        self.assertIn('"sneeze" is not a fault', simulator.output)

    def test_a_port_in_use_is_refused(self):
        with Simulator() as first:
            other = Simulator(bench=first.bench)
            other.process.wait(10)
            other.stop()
            self.assertEqual(other.process.returncode, 2)
            self.assertIn("cannot be had", other.output)
            self.assertTrue(os.path.exists(first.device))


if __name__ == "__main__":
    unittest.main()
