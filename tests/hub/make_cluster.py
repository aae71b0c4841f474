#!/usr/bin/python3
"""Makes the empty cluster that the tests of the hub begin with copies of: initdb takes seconds.

usage: make_cluster.py FOLDER      which is replaced
"""
import os
import shutil
import subprocess
import sys

from hub_kit import Yard, make_cluster

os.environ.pop("RINGTALLY_CLUSTER", None)
with Yard() as yard:
    make_cluster(yard.folder / "kept")
    shutil.rmtree(sys.argv[1], ignore_errors=True)
    subprocess.run(["cp", "-a", yard.folder / "kept", sys.argv[1]], check=True)
