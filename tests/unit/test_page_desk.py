"""A record on the desk: what is refused, steps back, and the file, which nobody's work is lost in."""

from __future__ import annotations

import hashlib
import json
import os
import time
import tomllib

import pytest
from shipped import SHIPPED  # noqa: F401 -- placeholder
