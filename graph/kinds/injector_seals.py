"""Seals and clamps of the injectors, new at each fitting."""

from graph.limit import Kind

KIND = Kind(
    name="injector_seals",
    label="injector seals",
    area="Fuel",
    does="seal the injectors in the head",
    synonyms=(
        "seals",
        "dichtsatz",
    ),
    no_limit="single-use pieces that go with every injector job",
    cautions=(
        "F",
        "J",
    ),
)
