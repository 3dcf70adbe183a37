"""An OpenColorIO config that names every LUT of a delivery as a look.

The reference is ACES2065-1. Each encoding of a LUT is a colour space, by a chain in ``spaces/``
from its codes to that light; each LUT is a look, named as its file without the ending, in the space
of the codes that it takes. A look that ends in another encoding is brought back into the space that
it began in, so that it can be used like any other. A monitor's rendering has no way back: it is a
look that leaves the monitor's codes, and a view of the display ``monitor``.

OpenColorIO writes the config and checks it; version 2.1 of the format is asked for.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from pathlib import PurePath
from typing import Any

from wbplan.codes.encodings import Encoding, find_encoding
from wbplan.core.names import make_safe_name
from wbplan.lut.cdl import CDL_FORMS
from wbplan.lut.clf import check_installed, format_space
from wbplan.record.delivery.manifest import LutEntry

CONFIG_NAME = "config.ocio"
REFERENCE, RAW, DISPLAY = "ACES2065-1", "raw", "monitor"
SPACES = "spaces"


def find_reference() -> Encoding:
    """Look up the light of the reference: linear, ACES2065-1."""
    return find_encoding("Linear", "ACES2065-1")


def name_space(encoding: Encoding) -> str:
    """Name the colour space of an encoding: its curve, its gamut, its levels if not full range."""
    levels = "" if encoding.levels == "full" else f" {encoding.levels}"
    return f"{encoding.curve} {encoding.gamut}{levels}".replace(",", "")


def name_look(entry: LutEntry) -> str:
    """Name the look of a LUT: its file's name without the ending."""
    return PurePath(entry.file.file_name).stem


def find_input(entry: LutEntry) -> Encoding:
    """Find what a LUT takes: its encoding, or for a CDL that encoding's scene-linear light."""
    source = entry.file.source
    if entry.file.format in CDL_FORMS:
        return find_encoding("Linear", source.gamut)
    return source


def name_space_file(encoding: Encoding) -> str:
    """Name the chain from an encoding to the reference, below the delivery."""
    return f"{SPACES}/{make_safe_name(name_space(encoding))}-to-aces2065-1.clf"


def list_spaces(entries: Sequence[LutEntry]) -> dict[str, Encoding]:
    """List what LUTs take and give, by the names of the colour spaces; no monitor's rendering."""
    found = [find_input(each) for each in entries]
    found += [each.file.target for each in entries if each.file.recipe.kind != "monitor"]
    return {name_space(each): each for each in found}


def make_color_config(title: str, entries: Sequence[LutEntry]) -> dict[str, bytes]:
    """Make the config and the chains of its colour spaces, by name.

    Raises
    ------
    InputError
        When OpenColorIO is not installed.
    """
    check_installed()
    ocio = import_module("PyOpenColorIO")

    spaces = list_spaces(entries)
    config = ocio.Config()
    config.setVersion(2, 1)
    config.setName(make_safe_name(title))
    config.setDescription(f"LUTs for {title}: each is a look, named as its file.")
    config.setSearchPath(".")
    config.addColorSpace(
        ocio.ColorSpace(name=REFERENCE, encoding="scene-linear", description="linear, AP0")
    )
    config.addColorSpace(ocio.ColorSpace(name=RAW, isData=True, description="codes as they are"))
    for role in ("scene_linear", "aces_interchange"):
        config.setRole(role, REFERENCE)
    config.setRole("default", RAW)
    files: dict[str, bytes] = {}
    for name, encoding in spaces.items():
        path = name_space_file(encoding)
        files[path] = format_space(encoding, find_reference())
        is_linear = encoding.curve == "Linear"
        space = ocio.ColorSpace(
            name=name,
            encoding="scene-linear" if is_linear else "log",
            description=encoding.words,
        )
        space.setTransform(_read(ocio, path), ocio.COLORSPACE_DIR_TO_REFERENCE)
        config.addColorSpace(space)
    config.addDisplayView(DISPLAY, "raw", RAW)
    for each in entries:
        _add_look(ocio, config, each)
    config.validate()
    return {CONFIG_NAME: str(config.serialize()).encode("utf-8"), **files}


def _read(ocio: Any, path: str) -> Any:
    return ocio.FileTransform(path, interpolation=ocio.INTERP_BEST)


def _add_look(ocio: Any, config: Any, entry: LutEntry) -> None:
    file, recipe = entry.file, entry.file.recipe
    takes, name = name_space(find_input(entry)), name_look(entry)
    transform = _read(ocio, entry.path)
    said = f"{entry.setup}, {file.draft.camera_name}: {recipe.start} to {recipe.end}"
    if recipe.kind == "monitor":
        said += f"; leaves codes of {file.target.curve}"
        view = ocio.ColorSpace(name=f"view {name}", description=said, family=DISPLAY)
        inverse = ocio.FileTransform(
            name_space_file(file.source), direction=ocio.TRANSFORM_DIR_INVERSE
        )
        ahead = ocio.GroupTransform([inverse, transform])
        view.setTransform(ahead, ocio.COLORSPACE_DIR_FROM_REFERENCE)
        config.addColorSpace(view)
        config.addDisplayView(DISPLAY, name, f"view {name}")
    elif recipe.correction.target is not None:
        back = ocio.ColorSpaceTransform(src=name_space(file.target), dst=takes)
        transform = ocio.GroupTransform([transform, back])
    config.addLook(ocio.Look(name=name, processSpace=takes, transform=transform, description=said))
