"""The jet pump against the published formula and its signs; what must hold for any unit."""

from dataclasses import replace

import pytest
from fluids.jet_pump import liquid_jet_pump, liquid_jet_pump_ancillary
from hypothesis import assume, given
from hypothesis import strategies as st

from brinebayes.errors import UsageError
from brinebayes.physics import injector as jet
from brinebayes.physics import liquids
from brinebayes.physics.hydraulics import (
    ConstantFlow,
    Drain,
    FixedOrifice,
    Tube,
    circle_m2,
    drain_pa,
    elevation_pa,
    friction_pa,
)
from brinebayes.physics.injector import BrineStep, BrineSupply, Injector
from brinebayes.physics.units import FT, GPM, IN, PSI

HEALTHY = Injector(nozzle_m=1.1e-3, throat_m=1.9e-3)
SUPPLY = BrineSupply(Tube(FT.to_si(5), IN.to_si(0.25)), lift_m=0.6)
LINE = Tube(FT.to_si(20), IN.to_si(0.5))
CONTROL = FixedOrifice(circle_m2(IN.to_si(0.124)))
OPEN = Drain(CONTROL, LINE)

injectors = st.builds(
    lambda nozzle, ratio, losses: Injector(nozzle, nozzle / ratio, *losses),
    st.floats(0.6e-3, 2e-3),
    st.floats(0.35, 0.68),
    st.tuples(*[st.floats(0.02, 0.4)] * 4),
)
inlets = st.floats(PSI.to_si(15), PSI.to_si(100))
lines = st.builds(
    Tube, length_m=st.floats(0.5, 20), bore_m=st.floats(0.006, 0.02), rise_m=st.floats(-1, 3)
)
areas = st.floats(2e-7, 1e-5)


def draw(
    inlet_psi: float = 50.0,
    injector: Injector = HEALTHY,
    drain: Drain = OPEN,
    supply: BrineSupply = SUPPLY,
    altitude_m: float = 0.0,
) -> BrineStep:
    """The brine step of an assumed unit."""
    return jet.brine_step(injector, PSI.to_si(inlet_psi), supply, drain, altitude_m=altitude_m)


def restricted(part: float, line: Tube = LINE) -> Drain:
    """The drain with `part` of the control's area open."""
    return Drain(FixedOrifice(CONTROL.area_m2 * part), line)


class TestFormula:
    """Pressure ratio and motive flow as published."""

    @given(injectors, st.floats(0.05, 2.0), st.floats(1.0, 1.21))
    def test_pressure_ratio_in_fluids(
        self, injector: Injector, flow_ratio: float, density_ratio: float
    ) -> None:
        """The same N from the library, under enough pressure that its `abs` does not act."""
        qp, p2 = 2e-5, 1e8
        answer = liquid_jet_pump(
            rhop=1000.0,
            rhos=1000.0 * density_ratio,
            Kp=injector.nozzle_loss,
            Ks=injector.suction_loss,
            Km=injector.throat_loss,
            Kd=injector.diffuser_loss,
            d_nozzle=injector.nozzle_m,
            d_mixing=injector.throat_m,
            Qp=qp,
            Qs=qp * flow_ratio,
            P2=p2,
            nozzle_retracted=False,
        )
        expected = (answer["P5"] - p2) / (answer["P1"] - answer["P5"])
        n = jet.pressure_ratio(injector, flow_ratio, density_ratio)
        assert n == pytest.approx(expected, rel=1e-6, abs=1e-6)

    @given(injectors, st.floats(0.0, 1e5))
    def test_settled_step_keeps_both_published_equations(
        self, injector: Injector, inlet_more_pa: float
    ) -> None:
        inlet_pa = PSI.to_si(20) + inlet_more_pa
        step = jet.brine_step(injector, inlet_pa, SUPPLY, OPEN)
        assume(step.brine_m3_s > 0 and not step.cavitating)
        motive = liquids.water()
        expected_inlet = liquid_jet_pump_ancillary(
            rhop=motive.density_kg_m3,
            rhos=SUPPLY.liquid.density_kg_m3,
            Kp=injector.nozzle_loss,
            Ks=injector.suction_loss,
            d_nozzle=injector.nozzle_m,
            d_mixing=injector.throat_m,
            Qp=step.motive_m3_s,
            Qs=step.brine_m3_s,
            P2=step.suction_pa,
        )
        assert inlet_pa == pytest.approx(expected_inlet, rel=1e-6)
        n = jet.pressure_ratio(
            injector,
            step.brine_m3_s / step.motive_m3_s,
            SUPPLY.liquid.density_kg_m3 / motive.density_kg_m3,
        )
        actual = (step.tank_pa - step.suction_pa) / (inlet_pa - step.tank_pa)
        assert actual == pytest.approx(n, rel=1e-6, abs=1e-9)

    def test_a_nozzle_as_wide_as_the_throat_is_refused(self) -> None:
        with pytest.raises(UsageError, match="plugged_throat"):
            Injector(1.5e-3, 1.9e-3)


class TestBrineStep:
    """Flows and pressures agree on both sides of the injector."""

    @given(injectors, inlets, lines, areas)
    def test_drain_side_and_tank_side_agree(
        self, injector: Injector, inlet_pa: float, line: Tube, area: float
    ) -> None:
        drain = Drain(FixedOrifice(area), line)
        step = jet.brine_step(injector, inlet_pa, SUPPLY, drain)
        assert step.drain_m3_s == pytest.approx(
            max(step.brine_m3_s + step.motive_m3_s, 0.0), abs=1e-12
        )
        brine = SUPPLY.liquid
        suction = -elevation_pa(SUPPLY.lift_m, brine) - friction_pa(
            step.brine_m3_s, SUPPLY.line, brine
        )
        assert step.suction_pa == pytest.approx(suction, abs=1.0)
        if step.drain_m3_s > 1e-9:
            needed = drain_pa(step.drain_m3_s, drain, liquids.water())
            assert step.tank_pa == pytest.approx(needed, rel=1e-5, abs=5.0)

    @given(injectors, inlets, lines, areas, st.floats(0.2, 1), st.floats(0, 3), st.floats(0, 30))
    def test_more_back_pressure_never_gives_more_brine(
        self,
        injector: Injector,
        inlet_pa: float,
        line: Tube,
        area: float,
        part: float,
        higher: float,
        longer: float,
    ) -> None:
        before = jet.brine_step(injector, inlet_pa, SUPPLY, Drain(FixedOrifice(area), line))
        for worse in (
            Drain(FixedOrifice(area * part), line),
            Drain(FixedOrifice(area), replace(line, rise_m=line.rise_m + higher)),
            Drain(FixedOrifice(area), replace(line, length_m=line.length_m + longer)),
            Drain(FixedOrifice(area), replace(line, bore_m=line.bore_m * part)),
        ):
            after = jet.brine_step(injector, inlet_pa, SUPPLY, worse)
            assert after.brine_m3_s <= before.brine_m3_s + 1e-11
            assert after.drain_m3_s <= before.drain_m3_s + 1e-11

    @given(injectors, inlets, lines, st.floats(-7, -5))
    def test_stall_and_reverse_flow_are_continuous(
        self, injector: Injector, inlet_pa: float, line: Tube, exponent: float
    ) -> None:
        """One part in 10,000 on the drain's area moves no flow by a hundredth of the jet's."""
        area = 10**exponent
        here, near = (
            jet.brine_step(injector, inlet_pa, SUPPLY, Drain(FixedOrifice(a), line))
            for a in (area, area * 1.0001)
        )
        scale = here.motive_m3_s
        assert abs(here.brine_m3_s - near.brine_m3_s) < 0.01 * scale
        assert abs(here.drain_m3_s - near.drain_m3_s) < 0.01 * scale

    def test_passes_through_stall_into_reverse_flow(self) -> None:
        """Closing the drain: draw falls to none, then water is pushed into the brine tank."""
        flows = [draw(drain=restricted(1 / n)).brine_m3_s for n in (1, 2, 3, 4, 6, 10, 50)]
        assert flows == sorted(flows, reverse=True)
        assert flows[0] > 0 > flows[-1]

    def test_shut_drain_pushes_all_motive_water_into_the_brine_tank(self) -> None:
        step = draw(drain=restricted(1e-6))
        assert step.brine_m3_s == pytest.approx(-step.motive_m3_s, rel=1e-4)
        assert step.bed_mass_fraction == 0.0

    @given(injectors, inlets, st.floats(0.1, 1.5), st.floats(0.0, 1.0))
    def test_a_lower_brine_level_never_gives_more_brine(
        self, injector: Injector, inlet_pa: float, lift: float, more: float
    ) -> None:
        high, low = (
            jet.brine_step(injector, inlet_pa, replace(SUPPLY, lift_m=h), OPEN).brine_m3_s
            for h in (lift, lift + more)
        )
        assert low <= high + 1e-11

    def test_boiling_at_the_throat_limits_the_draw(self) -> None:
        """More pressure gives no more brine once the throat boils, and less on a mountain."""
        low, high, highest = (draw(psi) for psi in (50, 80, 100))
        assert not low.cavitating
        assert high.cavitating
        assert high.brine_m3_s == pytest.approx(highest.brine_m3_s, rel=1e-3)
        assert draw(100, altitude_m=1500).brine_m3_s < 0.97 * highest.brine_m3_s

    def test_refuses_no_pressure(self) -> None:
        with pytest.raises(UsageError, match="above zero"):
            draw(0.0)

    def test_elastomer_control_leaves_less_back_pressure(self) -> None:
        """The fixed bore overstates healthy back pressure against an elastomer control."""
        elastomer = draw(drain=Drain(ConstantFlow(GPM.to_si(2.0)), LINE))
        fixed = draw()
        assert elastomer.tank_pa < fixed.tank_pa
        assert elastomer.brine_m3_s > fixed.brine_m3_s


class TestClosedStep:
    """Slow rinse, and the suction that a gauge reads with the brine line shut."""

    @given(inlets)
    def test_suction_never_passes_the_vapour_pressure(self, inlet_pa: float) -> None:
        step = jet.closed_step(HEALTHY, inlet_pa, OPEN)
        limit = liquids.vapour_pressure_pa(288.706) - 101325.0
        assert step.suction_pa >= limit - 1.0
        assert step.brine_m3_s == 0.0

    @given(injectors, inlets, lines, areas)
    def test_no_brine_leaves_only_motive_flow(
        self, injector: Injector, inlet_pa: float, line: Tube, area: float
    ) -> None:
        step = jet.closed_step(injector, inlet_pa, Drain(FixedOrifice(area), line))
        assert step.drain_m3_s == pytest.approx(step.motive_m3_s, abs=1e-12)

    def test_dead_head_stall_is_the_same_as_a_draw_of_nothing(self) -> None:
        """Where the open line neither draws nor pushes, shutting it changes nothing."""
        stalled = draw(drain=restricted(0.2), supply=replace(SUPPLY, lift_m=0.0))
        shut = jet.closed_step(HEALTHY, PSI.to_si(50), restricted(0.2))
        assert stalled.brine_m3_s < 0 < shut.suction_pa
        open_drain = jet.closed_step(HEALTHY, PSI.to_si(50), restricted(0.3))
        level_m = -open_drain.suction_pa / (SUPPLY.liquid.density_kg_m3 * 9.80665)
        balanced = draw(drain=restricted(0.3), supply=replace(SUPPLY, lift_m=level_m))
        assert balanced.brine_m3_s == pytest.approx(0.0, abs=1e-9)


class TestFaults:
    """Signs of faults as the trade knows them (common practice and judgement, no source)."""

    healthy = draw()

    def test_plugged_throat_trickles_and_pushes_water(self) -> None:
        step = draw(injector=jet.plugged_throat(HEALTHY, 0.05))
        assert step.drain_m3_s < 0.1 * self.healthy.drain_m3_s
        assert step.brine_m3_s < 0

    def test_clogged_nozzle_lowers_the_drain(self) -> None:
        step = draw(injector=jet.clogged_nozzle(HEALTHY, 0.2))
        assert step.drain_m3_s < 0.6 * self.healthy.drain_m3_s
        assert step.brine_m3_s < self.healthy.brine_m3_s

    def test_leaking_seal_lowers_the_draw_and_not_the_drain(self) -> None:
        step = draw(injector=replace(HEALTHY, seal_leak_m2=1e-6))
        assert step.brine_m3_s < 0.3 * self.healthy.brine_m3_s
        assert step.drain_m3_s == pytest.approx(self.healthy.drain_m3_s, rel=0.1)

    def test_blocked_brine_line_leaves_high_suction(self) -> None:
        step = jet.closed_step(HEALTHY, PSI.to_si(50), OPEN)
        assert PSI.from_si(step.suction_pa) < -12
        assert step.drain_m3_s < 0.7 * self.healthy.drain_m3_s

    def test_kinked_brine_line_slows_the_draw(self) -> None:
        kinked = replace(SUPPLY, line=replace(SUPPLY.line, fittings=2000.0))
        assert 0 < draw(supply=kinked).brine_m3_s < 0.8 * self.healthy.brine_m3_s
