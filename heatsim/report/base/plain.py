# SPDX-License-Identifier: GPL-3.0-or-later
"""Results as JSON that any reader accepts, and files that are complete or not there."""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np


def write_whole(path: Path, content: str | bytes) -> Path:
    """Write a file whole and return its path: under another name first, then in its place."""
    part = path.with_name(f"{path.name}.part")
    part.write_bytes(content if isinstance(content, bytes) else content.encode())
    os.replace(part, path)
    return path


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
