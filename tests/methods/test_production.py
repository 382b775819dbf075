"""Production lines against simulation and a published closed form."""

from __future__ import annotations

import numpy as np
import pytest

from firstoff.methods.production import measures, queues, staged_line, two_machines

MACHINES = (0.09, 0.01, 0.12, 0.02)


@pytest.mark.parametrize("variation", [0.0, 1.0])
def test_queue_against_lindley_s_recursion(variation: float) -> None:
    # W(n+1) = max(0, W(n) + S(n) - A(n)): simulation of 400 000 customers, seeded; scatter of the mean about 2 %
    rng, n, arrivals, service = np.random.default_rng(11), 400_000, 0.6, 1.0
    gaps = rng.exponential(1.0 / arrivals, n)
    served = rng.exponential(1.0 / service, n) if variation else np.full(n, 1.0 / service)
    steps = np.concatenate([[0.0], np.cumsum(served[:-1] - gaps[1:])])
    waits = steps - np.minimum.accumulate(steps)
    found = queues.single_server(arrivals, service, variation)
    assert found.time_waiting == pytest.approx(float(waits.mean()), rel=0.05)
    # Little's law on both rooms
    assert found.in_system == pytest.approx(arrivals * found.time_in_system)
    with pytest.raises(ValueError, match="grow without end"):
        queues.single_server(1.0, 1.0, 0.0)


def test_two_machines_against_a_simulation() -> None:
    r1, p1, r2, p2 = MACHINES
    lines, cycles, room = 2000, 6000, 20
    rng = np.random.default_rng(3)
    up1, up2, stock = np.ones(lines, bool), np.ones(lines, bool), np.full(lines, room // 2)
    made = held = 0.0
    for cycle in range(cycles):
        chance1, chance2 = rng.random(lines), rng.random(lines)
        up1 = np.where(up1, (stock == room) | (chance1 >= p1), chance1 < r1)
        up2 = np.where(up2, (stock == 0) | (chance2 >= p2), chance2 < r2)
        into, out = up1 & (stock < room), up2 & (stock > 0)
        stock = stock + into - out
        if cycle >= 1000:
            made += float(out.sum())
            held += float(stock.sum())
    found = two_machines.steady_state(*MACHINES, room)
    count = lines * (cycles - 1000)
    assert found.rate == pytest.approx(made / count, rel=3e-3)
    assert found.stock == pytest.approx(held / count, rel=1e-2)


def test_two_machines_keep_the_published_laws() -> None:
    r1, p1, r2, p2 = MACHINES
    small, large = two_machines.steady_state(*MACHINES, 4), two_machines.steady_state(*MACHINES, 2000)
    assert small.rate_without_buffer < small.rate < large.rate < large.rate_with_endless_buffer + 1e-9
    assert large.rate == pytest.approx(large.rate_with_endless_buffer, rel=1e-6)
    # Gershwin's flow relation: rate = e2 (1 - chance to starve) = e1 (1 - chance to be blocked)
    found = two_machines.steady_state(*MACHINES, 20)
    assert found.rate == pytest.approx(r2 / (r2 + p2) * (1.0 - found.starved), rel=1e-9)
    assert found.rate == pytest.approx(r1 / (r1 + p1) * (1.0 - found.blocked), rel=1e-9)
    # reversed, the line makes as much and holds the room that was free (reversibility, Gershwin)
    back = two_machines.steady_state(r2, p2, r1, p1, 20)
    assert back.rate == pytest.approx(found.rate, rel=1e-9)
    assert back.stock == pytest.approx(20.0 - found.stock, rel=1e-9)


def test_buffer_share_is_without_jumps_and_rises_to_one() -> None:
    shares = [staged_line.buffer_share(b, 1.2, 8.0) for b in np.linspace(0.0, 60.0, 601)]
    assert shares[0] == 0.0
    assert np.all(np.diff(shares) >= -1e-12) and np.max(np.diff(shares)) < 0.01
    assert staged_line.buffer_share(1e6, 1.2, 8.0) == pytest.approx(1.0, abs=1e-4)


def test_one_buffer_lies_between_none_and_endless() -> None:
    line = (20, 0.005, 1.2, 8.0)
    none, endless = staged_line.line_efficiency(*line), staged_line.unlimited_buffers(20, 10, *line[1:])
    assert staged_line.one_buffer(*line, 0.0) == pytest.approx(none)
    assert staged_line.one_buffer(*line, 1e7) == pytest.approx(endless, rel=1e-4)
    with pytest.raises(ValueError, match="even"):
        staged_line.one_buffer(19, *line[1:], 5.0)


def test_effectiveness_is_good_time_over_planned_time() -> None:
    found = measures.effectiveness(27000.0, 3000.0, 48.0, 460.0, 437.0)
    assert found.oee == pytest.approx(48.0 * 437.0 / 27000.0)  # the product form and the direct one
    with pytest.raises(ValueError, match="above 1"):
        measures.effectiveness(27000.0, 3000.0, 60.0, 460.0, 437.0)


def test_run_at_rate_on_the_line() -> None:
    assert measures.run_at_rate(450.0, 60.0 / 3600.0, 7.5 * 3600.0)[1]
    assert not measures.run_at_rate(449.0, 60.0 / 3600.0, 7.5 * 3600.0)[1]
