from __future__ import annotations

import importlib

import pytest
from cli.stand_ins import Road, write_stand_in


@pytest.fixture
def road(monkeypatch: pytest.MonkeyPatch) -> Road:
    stand_in = Road()
    module = importlib.import_module("lossfill.road")
    for name in ("design", "inspect", "measure"):
        monkeypatch.setattr(module, name, stand_in.function(name), raising=False)
    monkeypatch.setattr(importlib.import_module("lossfill.pack"), "write_pack", write_stand_in)
    monkeypatch.delenv("LOSSFILL_TRACEBACK", raising=False)
    return stand_in
