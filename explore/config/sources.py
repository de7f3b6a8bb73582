"""What Hydra reads from, in place of its own kinds: files as bounded data, and nodes made at run time as bytes.

Hydra copies all its nodes twice for each command it composes, node by node, which took two fifths of composing. A node
that is kept as bytes is made of them in a tenth of that time.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hydra._internal.core_plugins import structured_config_source as hydras
from hydra._internal.core_plugins.file_config_source import FileConfigSource
from hydra._internal.sources_registry import SourcesRegistry
from hydra.core.config_store import ConfigNode, ConfigStore
from hydra.core.plugins import Plugins
from hydra.plugins.config_source import ConfigResult
from omegaconf import OmegaConf

from explore.config.files import parsed
from explore.config.plain_yaml import read


class BoundedSource(FileConfigSource):
    """Files of a folder, each looked through before anything is built of it."""

    def load_config(self, config_path: str) -> ConfigResult:
        """Load a file that is plain data, or raise :class:`~explore.errors.InputError`."""
        path = Path(self.path, self._normalize_file_name(config_path))
        if not path.exists():
            return super().load_config(config_path)
        content = OmegaConf.create(parsed(path, interpolation=True) or {})
        header = self._get_header_dict(read(path))
        return ConfigResult(self.provider, f"{self.scheme()}://{self.path}", content, header)


@dataclass
class Kept(ConfigNode):
    """A node of the store and its bytes."""

    content: bytes


class StructuredConfigSource(hydras.StructuredConfigSource):
    """Nodes made at run time, under the name by which Hydra knows them; those of :func:`keep` are made of their bytes."""

    def __deepcopy__(self, memo: dict[int, Any]) -> StructuredConfigSource:
        """Return another source of the same store: without this Hydra copies every node in it."""
        return StructuredConfigSource(self.provider, f"{self.scheme()}://{self.path}")

    def load_config(self, config_path: str) -> ConfigResult:
        """Return a node that belongs to whoever asks."""
        kept = self.store.repo.get(self._normalize_file_name(config_path))
        if not isinstance(kept, Kept):
            return super().load_config(config_path)
        place = f"{self.scheme()}://{self.path}"
        return ConfigResult(
            kept.provider or self.provider, place, pickle.loads(kept.content), {"package": None}
        )


def take_ours() -> None:
    """Have Hydra read from these, whoever's folder its files are in."""
    Plugins.instance()  # registers Hydra's own sources, once
    for source in (BoundedSource, StructuredConfigSource):
        SourcesRegistry.instance().types[source.scheme()] = source


def keep(name: str, content: Mapping[str, Any]) -> None:
    """Make a node known to Hydra, anew only if ``content`` is another: to make it takes longer than to read all cards."""
    repo, file = ConfigStore.instance().repo, f"{name}.yaml"
    mark = hashlib.sha256(repr(content).encode()).hexdigest()
    if getattr(repo.get(file), "provider", None) != mark:
        node = OmegaConf.create(dict(content))
        repo[file] = Kept(file, node, group=None, package=None, provider=mark, content=pickle.dumps(node))
