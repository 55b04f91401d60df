"""A boat without an inverter meter: the load is solar, charging and bank put together."""

from custom_components.galley_loads.core.boat.boat_schema import parse_boat
from custom_components.galley_loads.core.inference.inference import Inference
from custom_components.galley_loads.core.metering.load_assembler import LoadAssembler
from custom_components.galley_loads.core.metering.reading import Reading
from demo.simulator import SimOptions, random_boat, simulate
from script.benches.metrics import pooled_f1, running_time
from script.benches.recording import Recording, with_minutes

OPTIONS = SimOptions(
    days=1.0,
    kinds=("kettle", "oven", "induction_hob"),
    dc_only=True,
    late_share=0.01,
    doubled_share=0.01,
    dropouts_per_day=1.0,
    dropout_s=20.0,
)


def test_a_boat_known_from_its_bank_alone_finds_what_ran():
    world = random_boat(3, OPTIONS)
    result = simulate(world, 3, OPTIONS)
    boat = parse_boat(world.description)
    assembler, inference = LoadAssembler(boat), Inference(boat)
    names = [a.name for a in boat.appliances]
    recording = Recording(result.truth.start_s, 8640, names)
    samples = (
        sample
        for entity_id, state, at_s in result.rows()
        for sample in assembler.feed(Reading(entity_id, state, at_s))
    )
    for sample in with_minutes(samples):
        inference.observe(sample)
    inference.finish()
    for segment in inference.take_settled():
        recording.add(segment)
    truth = {name: [] for name in names}
    for run in result.truth.runs:
        truth[run.appliance].append((run.start_s, run.end_s))
    assert pooled_f1(running_time(truth, recording.spans()).values()) > 0.9
