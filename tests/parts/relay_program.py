"""A relay that is a file, as a program: `relay_program.py FILE on [SECONDS] | off | state`. Invented, for the tests."""

import json
import sys
import time
from pathlib import Path

file, order, *seconds = sys.argv[1:]
path = Path(file)
if order == "state":
    on = time.time() < float(path.read_text())
    print(json.dumps({"on": on, "watts": 541.0 if on else 0.3, "volts": 230.0}))
else:
    path.write_text(str(time.time() + float((seconds or ["1e9"])[0]) if order == "on" else 0))
