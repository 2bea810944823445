# SPDX-License-Identifier: GPL-3.0-or-later
"""Results as plain data and JSON that any reader accepts, and folders of them."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from heatsim.errors import OutputError
from heatsim.files import make_folder, reason, shown_path, write_whole


def as_json(content: Any) -> str:
    """JSON text; what is not finite becomes null, NumPy numbers and arrays become plain ones."""
    return json.dumps(plain(content), indent=2, ensure_ascii=False, allow_nan=False)


def plain(content: Any) -> Any:
    """The same content in dicts, lists, texts, finite numbers and None.

    Raises TypeError for what has no plain form, rather than writing its repr.
    """
    if content is None or isinstance(content, str | bool | int):
        return content
    if isinstance(content, float | np.floating):
        return float(content) if math.isfinite(content) else None
    if isinstance(content, np.bool_ | np.integer):
        return content.item()
    if isinstance(content, Mapping):
        return {str(key): plain(value) for key, value in content.items()}
    if isinstance(content, list | tuple | np.ndarray):
        return [plain(item) for item in content]
    raise TypeError(f"{type(content).__name__} has no plain form")


def json_file(content: Any) -> str:
    """A JSON file's text."""
    return as_json(content) + "\n"


def write_files(out: Path, content: Mapping[str, str | bytes], stale: Iterable[Path] = ()) -> list[Path]:
    """Write files into a folder, made if need be, and return their paths in the order given; each is complete or not there.

    content: name -> text or bytes; stale: files of an earlier run, removed unless written anew. Raises OutputError.
    """
    make_folder(out)
    paths = [write_whole(out / name, data) for name, data in content.items()]
    remove_files(set(stale) - set(paths))
    return paths


def remove_files(paths: Iterable[Path]) -> None:
    """Take away files, if they are there. Raises OutputError."""
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise OutputError.at(shown_path(path), reason(error)) from None
