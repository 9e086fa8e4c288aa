"""A pymodbus server on a free port of the loopback, for our master to read: prints the port, serves until its input closes.

Input and holding registers hold the same. From address 0: each number type in each byte order, at 4 * (8 * order + type),
packed here by Python's struct module, which knows nothing of our decoding.
"""
import socket
import struct
import sys
import threading

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext, ModbusSlaveContext
from pymodbus.server import StartTcpServer

TYPES = [(">h", -12345), (">H", 54321), (">i", -123456789), (">I", 3456789012),
         (">q", -1234567890123456789), (">Q", 12345678901234567890), (">f", 123.456), (">d", -1013.25)]


def travelling(packed, order):
    words = [packed[i:i + 2] for i in range(0, len(packed), 2)]
    if order in ("cdab", "dcba"):
        words.reverse()
    if order in ("badc", "dcba"):
        words = [word[::-1] for word in words]
    return [struct.unpack(">H", word)[0] for word in words]


registers = [0] * 256
for o, order in enumerate(("abcd", "cdab", "badc", "dcba")):
    for t, (layout, value) in enumerate(TYPES):
        at = 4 * (8 * o + t)
        words = travelling(struct.pack(layout, value), order)
        registers[at:at + len(words)] = words

block = ModbusSequentialDataBlock(0, registers)
store = ModbusSlaveContext(hr=block, ir=block, zero_mode=True)
with socket.socket() as probe:
    probe.bind(("127.0.0.1", 0))
    port = probe.getsockname()[1]
threading.Thread(target=StartTcpServer, daemon=True, kwargs={
    "context": ModbusServerContext(slaves={5: store}, single=False), "address": ("127.0.0.1", port)}).start()
print(port, flush=True)
sys.stdin.read()
