"""What a technician measured on one pair of wires; the keys are those of ``--measured`` as well."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from netcheck.files._base import FileModel

NotBelowZero = Annotated[float, Field(ge=0)]
Shorted = Literal["no", "ground", "supply"]


def _hyphens(name: str) -> str:
    return name.replace("_", "-")


class Measured(FileModel):
    """Readings of one pair. Voltages are those of a wire to vehicle ground, or of high minus low."""

    model_config = ConfigDict(alias_generator=_hyphens)

    network: str | None = Field(None, description="network of the pair; not needed if all items share one")
    termination: NotBelowZero | Literal["open"] | None = Field(
        None, description='ohms from high to low with the battery disconnected, or "open"'
    )
    high_idle: float | None = Field(None, description="volts of high to ground, ignition on, no traffic")
    low_idle: float | None = Field(None, description="volts of low to ground, ignition on, no traffic")
    difference_idle: float | None = Field(None, description="volts from high to low, no traffic")
    high_busy: float | None = Field(None, description="volts of high to ground by multimeter, under traffic")
    low_busy: float | None = Field(None, description="volts of low to ground by multimeter, under traffic")
    high_dominant: float | None = Field(None, description="volts of high in a dominant bit, by oscilloscope")
    low_dominant: float | None = Field(None, description="volts of low in a dominant bit, by oscilloscope")
    difference_dominant: float | None = Field(
        None, description="volts from high to low in a dominant bit, by oscilloscope"
    )
    high_shorted: Shorted | None = Field(
        None, description='what high beeps to with the battery disconnected: "no", "ground" or "supply"'
    )
    low_shorted: Shorted | None = Field(
        None, description='what low beeps to with the battery disconnected: "no", "ground" or "supply"'
    )
    stub: NotBelowZero | None = Field(
        None, description="metres of wire from the network to the new part's plug"
    )
