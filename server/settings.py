"""One frozen Settings value, read from the environment once by the composition root or the command line."""

from __future__ import annotations

from pathlib import Path

from pydantic import Field, ValidationError, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict

from server.errors import InputProblem, Problem

PROJECT_ROOT = Path(__file__).resolve().parent.parent


class Settings(BaseSettings):
    """Where Beaconry keeps its data and where it listens. Every field is an environment variable BEACONRY_<FIELD>."""

    model_config = SettingsConfigDict(env_prefix="BEACONRY_", frozen=True)

    home: Path = Field(default_factory=lambda: Path.home() / ".beaconry")
    """Folder of the database, the caches and the terrain store."""

    port: int = Field(default=8077, ge=0, le=65535)
    """TCP port on the loopback interface; 0 lets the system choose."""

    database_url: str = ""
    """SQLAlchemy URL; empty means SQLite in ``home``."""

    @field_validator("home")
    @classmethod
    def _absolute_home(cls, home: Path) -> Path:
        return home.expanduser().resolve()

    @property
    def effective_database_url(self) -> str:
        return self.database_url or f"sqlite:///{self.home / 'beaconry.sqlite3'}"

    @property
    def terrain_folder(self) -> Path:
        return self.home / "terrain"

    @property
    def kernel_cache_folder(self) -> Path:
        return self.home / "kernels"

    @property
    def sample_region_folder(self) -> Path:
        return PROJECT_ROOT / "sample_region"

    @property
    def templates_folder(self) -> Path:
        return PROJECT_ROOT / "templates"

    @property
    def static_folder(self) -> Path:
        return PROJECT_ROOT / "static"

    @property
    def migrations_folder(self) -> Path:
        return PROJECT_ROOT / "migrations"

    @classmethod
    def from_environment(cls) -> Settings:
        """Read the environment; what cannot be used is named by its variable."""
        try:
            return cls()
        except ValidationError as refusal:
            wrong = refusal.errors(include_url=False)
            problems = tuple(Problem(place=f"BEACONRY_{str(each['loc'][0]).upper()}", message=f"{each['msg']}.") for each in wrong)
            raise InputProblem(problems[0].message, code="setting", problems=problems) from refusal
