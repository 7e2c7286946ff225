# SPDX-License-Identifier: Apache-2.0
# Writes the .npy files of this folder with numpy (numpy 1.24.2 made those kept here): /usr/bin/python3 generate.py
import numpy as np

ramp = np.array([-128, -1, 0, 1, 127])
volts = np.array([-1.5, 0.0, 0.25, 1.2, 2.930])
np.save("int8.npy", ramp.astype(np.int8))
np.save("int16.npy", (ramp * 250).astype("<i2"))
np.save("int16_big_endian.npy", (ramp * 250).astype(">i2"))
np.save("float32.npy", volts.astype("<f4"))
np.save("float64.npy", volts.astype("<f8"))
np.save("float64_big_endian.npy", volts.astype(">f8"))
np.save("column.npy", volts.astype("<f4").reshape(5, 1))
np.save("fortran.npy", np.asfortranarray(volts.astype("<f4").reshape(1, 5)))
np.save("two_rows.npy", volts.astype("<f4").reshape(1, 5).repeat(2, axis=0))
np.save("empty.npy", np.zeros(0, np.int8))
np.save("uint8.npy", np.arange(5, dtype=np.uint8))
np.save("complex.npy", volts.astype(np.complex64))
np.save("object.npy", np.array([1, "two"], dtype=object), allow_pickle=True)
np.save("record.npy", np.zeros(2, dtype=[("time", "<f8"), ("volts", "<f8")]))
np.save("nan.npy", np.array([0.0, 1.0, np.nan, 2.0], dtype="<f4"))
np.save("infinite.npy", np.array([0.0, 1.0, 2.0, -np.inf], dtype="<f8"))
with open("version2.npy", "wb") as f:
    np.lib.format.write_array(f, volts.astype("<f4"), version=(2, 0))
