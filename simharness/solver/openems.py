"""The child process: a plain request in, raw records out. The only importer of openEMS and CSXCAD.

Run as ``python PATH/openems.py FOLDER THREADS``: reads ``request.json`` there (see
`model.request.write_request`), works in ``FOLDER/engine`` and leaves ``raw.h5``. The transcript is whatever
this process prints. With ``--version`` instead, it prints the version of the solver and the files that it
loads.

Any Python from 3.9 on will do that has numpy, h5py and the two modules of the solver: of this package it
imports three modules beside itself, which need no more than that.
"""

from __future__ import annotations

import json
import sys
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

INTERFACE = (
    ("openEMS.openEMS", "SetCellConstantMaterial", "one material in each cell, not a mean over its corners"),
    ("openEMS.openEMS", "SetGaussExcite", "centre and half bandwidth (at -20 dB) of the pulse, Hz"),
    ("openEMS.openEMS", "SetCSX", "it keeps no reference: the structure must outlive the run"),
    ("openEMS.openEMS", "SetBoundaryCond", "words: PEC, MUR, PML_8"),
    (
        "openEMS.openEMS",
        "Run",
        "absolute path, cleanup, verbose (1: transcript as read by `log`), numThreads",
    ),
    ("openEMS.openEMS", "WelcomeScreen", "prints the version"),
    ("CSXCAD.ContinuousStructure", "GetGrid", "with SetDeltaUnit and SetLines"),
    ("CSXCAD.ContinuousStructure", "AddMetal", ""),
    ("CSXCAD.ContinuousStructure", "AddMaterial", "epsilon, mue (relative), kappa, sigma (S/m, ohm/m)"),
    ("CSXCAD.CSProperties.CSPropMaterial", "SetIsotropy", "False: those of x, y and z each, as a list"),
    ("CSXCAD.ContinuousStructure", "AddLumpedElement", "ny, caps, R"),
    ("CSXCAD.ContinuousStructure", "AddExcitation", "exc_type 0 (soft E), exc_val, SetWeightFunction"),
    ("CSXCAD.ContinuousStructure", "AddProbe", "p_type 0 to 3, weight, norm_dir; a text file of its name"),
    (
        "CSXCAD.ContinuousStructure",
        "AddDump",
        "dump_type 10 and 11, dump_mode 0 to 2, file_type 1, frequency",
    ),
    ("CSXCAD.CSRectGrid.CSRectGrid", "SetDeltaUnit", "m"),
    ("CSXCAD.CSRectGrid.CSRectGrid", "SetLines", "axis and positions; kept bit for bit"),
    ("CSXCAD.CSProperties.CSProperties", "AddBox", "two corners on mesh lines, priority"),
    ("CSXCAD.CSProperties.CSPropExcitation", "SetWeightFunction", "expressions in x, y, z in drawing units"),
)
"""What is used of the solver's Python interface: owner, method, and what is relied on.

Seen with openEMS 0.0.35 and CSXCAD 0.6.2. Not used, because they fail or mislead there: the packaged port
classes, and the packaged transform to the far field, which reads a file that an earlier run has left
without a look at its source."""

ADDERS = {
    "metal": "AddMetal",
    "material": "AddMaterial",
    "resistor": "AddLumpedElement",
    "source": "AddExcitation",
    "probe": "AddProbe",
    "record": "AddDump",
}
"""Kind of a property (`model.properties.Property`) to the method that adds it."""


def _import_solver() -> tuple[ModuleType, ModuleType]:
    """The solver's two modules, openEMS and CSXCAD.

    One module of CSXCAD imports all of matplotlib for plots that nobody here asks for: a third of a second.
    """
    sys.modules.setdefault("pylab", ModuleType("pylab"))
    import CSXCAD
    import openEMS

    return openEMS, CSXCAD


def missing_interface() -> list[str]:
    """Names of `INTERFACE` that the solver on this machine lacks."""
    _import_solver()
    missing = []
    for owner, method, _ in INTERFACE:
        module, _, name = owner.rpartition(".")
        try:
            found = getattr(import_module(module), name, None)
        except ImportError:
            found = None
        if not hasattr(found, method):
            missing.append(f"{owner}.{method}")
    return missing


def build(request: dict[str, Any]) -> tuple[Any, Any]:
    """FDTD object with the whole model; the structure is returned too so that it stays alive."""
    openems, csxcad = _import_solver()
    fdtd = openems.openEMS(NrTS=request["timesteps"], EndCriteria=request["end_criterion"])
    fdtd.SetCellConstantMaterial(True)
    fdtd.SetGaussExcite(request["centre"], request["half_bandwidth"])
    csx = csxcad.ContinuousStructure()
    fdtd.SetCSX(csx)
    mesh = csx.GetGrid()
    mesh.SetDeltaUnit(request["unit"])
    for name, line in zip("xyz", request["lines"]):
        mesh.SetLines(name, line)
    fdtd.SetBoundaryCond(request["boundaries"])
    for item in request["properties"]:
        added = getattr(csx, ADDERS[item["kind"]])(item["name"], **item["options"])
        if isinstance(item["options"].get("epsilon"), list):
            added.SetIsotropy(False)
        if item["weights"]:
            added.SetWeightFunction(item["weights"])
        for low, high, priority in item["boxes"]:
            added.AddBox(low, high, **({} if priority is None else {"priority": priority}))
    return fdtd, csx


def run(folder: Path, threads: int) -> None:
    """Build, run, gather."""
    from simharness.solver.files import collect
    from simharness.solver.subnormals import subnormals_as_zero

    request = json.loads((folder / "request.json").read_text(encoding="utf-8"))
    engine = folder / "engine"
    fdtd, csx = build(request)
    with subnormals_as_zero():
        fdtd.Run(str(engine.resolve()), cleanup=False, verbose=1, numThreads=threads)
    probes = [item["name"] for item in request["properties"] if item["kind"] == "probe"]
    collect(engine, folder / "raw.h5", probes)
    del fdtd, csx


def tell() -> None:
    """Print the version of the solver, the files of its modules, and the libraries that they load."""
    import h5py
    import numpy

    openems, csxcad = _import_solver()
    openems.openEMS.WelcomeScreen()
    for module in (csxcad, openems):
        print("module:", module.__file__)
    maps = Path("/proc/self/maps")
    for line in maps.read_text().splitlines() if maps.exists() else ():
        if "openEMS" in line or "CSXCAD" in line:
            print("loaded:", line.split(maxsplit=5)[5])
    print("numpy", numpy.__version__, "h5py", h5py.__version__)


def main(arguments: list[str]) -> int:
    """Do what the command line asks for."""
    if lacks := missing_interface():
        print(f"error: the solver's Python interface lacks {', '.join(lacks)}", file=sys.stderr)
        return 1
    if arguments == ["--version"]:
        tell()
    else:
        run(Path(arguments[0]).resolve(), int(arguments[1]))
    return 0


def _find_package() -> None:
    """Let the modules beside this file be imported as those of their package, without the package's own
    imports."""
    here = Path(__file__).resolve().parent
    sys.path[:] = [entry for entry in sys.path if not entry or Path(entry).resolve() != here]
    for name, place in (("simharness", here.parent), ("simharness.solver", here)):
        package = ModuleType(name)
        package.__path__ = [str(place)]
        sys.modules[name] = package


if __name__ == "__main__":
    _find_package()
    from simharness.solver.parent_death import die_with_parent

    die_with_parent()
    sys.exit(main(sys.argv[1:]))
