"""A Modbus RTU station served by the reference library pymodbus.

Usage: modbus_station.py DEVICE BAUD

Station 17 with input registers 4 to 9 (a float of 8.5, a signed long of -123456,
two words) and holding register 100. The library itself encodes the numbers. All
values are invented. Ends when its standard input ends.
"""

import asyncio
import sys

from pymodbus.server import ModbusSerialServer
from pymodbus.simulator import DataType, SimData, SimDevice


async def main() -> None:
    device, baud = sys.argv[1], int(sys.argv[2])
    bits = [SimData(0, values=False, datatype=DataType.BITS)]
    holding = [SimData(100, values=1234, datatype=DataType.REGISTERS)]
    inputs = [
        SimData(4, values=8.5, datatype=DataType.FLOAT32),
        SimData(6, values=-123456, datatype=DataType.INT32),
        SimData(8, values=[512, 65036], datatype=DataType.REGISTERS),
    ]
    station = SimDevice(17, simdata=(bits, bits, holding, inputs))
    server = ModbusSerialServer(station, port=device, baudrate=baud)
    await server.serve_forever(background=True)
    print("ready", flush=True)
    await asyncio.get_running_loop().run_in_executor(None, sys.stdin.read)
    await server.shutdown()


asyncio.run(main())
