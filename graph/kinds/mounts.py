"""Engine and gearbox mounts."""

from graph.limit import Kind

KIND = Kind(
    name="mounts",
    label="mounts",
    area="Drive",
    does="hold engine and gearbox in the car",
    synonyms=(
        "engine mounts",
        "motorlager",
    ),
    no_limit="movement and noise, no power limit of their own",
)
