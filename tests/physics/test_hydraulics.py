"""Tubing, flow controls and bed against fluids; what must hold for any drain."""

import fluids
import pytest
from fluids.drag import v_terminal
from fluids.friction import Churchill_1977
from fluids.packed_bed import Ergun
from hypothesis import given
from hypothesis import strategies as st

from brinebayes.physics import hydraulics, liquids
from brinebayes.physics.hydraulics import (
    Bed,
    ConstantFlow,
    Control,
    Drain,
    FixedOrifice,
    Tube,
    circle_m2,
)
from brinebayes.physics.units import DEG_F, FT, FT3, GPM, IN, PSI

WATER = liquids.water()

tubes = st.builds(
    Tube,
    length_m=st.floats(0.1, 50),
    bore_m=st.floats(0.004, 0.03),
    rise_m=st.floats(-3, 3),
    fittings=st.floats(0, 30),
)
controls: st.SearchStrategy[Control | None] = st.one_of(
    st.none(),
    st.builds(FixedOrifice, area_m2=st.floats(2e-7, 5e-5)),
    st.builds(ConstantFlow, rated_m3_s=st.floats(1e-5, 5e-4)),
)
drains = st.builds(Drain, control=controls, line=tubes)
pressures = st.floats(0, PSI.to_si(100))


class TestFrictionFactor:
    """One continuous curve from laminar to turbulent."""

    @given(st.floats(100, 1e7), st.floats(1e-6, 0.05))
    def test_same_formula_in_fluids(self, re: float, roughness: float) -> None:
        expected = Churchill_1977(re, roughness)
        assert hydraulics.friction_factor(re, roughness) == pytest.approx(expected, rel=1e-9)

    @given(st.floats(4000, 1e6), st.floats(1e-5, 1e-3))
    def test_near_colebrook_in_turbulent_flow(self, re: float, roughness: float) -> None:
        expected = fluids.friction_factor(Re=re, eD=roughness)
        assert hydraulics.friction_factor(re, roughness) == pytest.approx(expected, rel=0.025)

    @given(st.floats(1e-3, 1500), st.floats(1e-6, 0.01))
    def test_laminar_is_64_over_re(self, re: float, roughness: float) -> None:
        assert hydraulics.friction_factor(re, roughness) == pytest.approx(64 / re, rel=1e-6)


class TestTube:
    """Darcy and Weisbach, and its inverse."""

    @given(st.floats(1e-6, 1e-3), tubes)
    def test_loss_through_fluids(self, flow: float, tube: Tube) -> None:
        speed = flow / (3.141592653589793 / 4 * tube.bore_m**2)
        re = fluids.Reynolds(
            V=speed, D=tube.bore_m, rho=WATER.density_kg_m3, mu=WATER.viscosity_pa_s
        )
        k = fluids.K_from_f(
            fd=Churchill_1977(re, tube.roughness_m / tube.bore_m), L=tube.length_m, D=tube.bore_m
        )
        expected = fluids.dP_from_K(k + tube.fittings, rho=WATER.density_kg_m3, V=speed)
        assert hydraulics.friction_pa(flow, tube, WATER) == pytest.approx(expected, rel=1e-6)

    @given(st.floats(0, 1e-3), tubes)
    def test_loss_has_the_sign_of_the_flow(self, flow: float, tube: Tube) -> None:
        assert hydraulics.friction_pa(-flow, tube, WATER) == -hydraulics.friction_pa(
            flow, tube, WATER
        )

    @given(pressures, tubes)
    def test_flow_is_the_inverse_of_pressure(self, pressure: float, tube: Tube) -> None:
        flow = hydraulics.line_flow_m3_s(pressure, tube, WATER)
        back = hydraulics.line_pa(flow, tube, WATER)
        if pressure > hydraulics.elevation_pa(tube.rise_m, WATER):
            assert back == pytest.approx(pressure, rel=1e-6, abs=0.1)
        else:
            assert flow == 0.0


class TestRunLoad:
    """What a run of drain tubing takes of the inlet pressure."""

    def test_a_long_high_run(self) -> None:
        """35 ft of half inch rising 8 ft at 2.7 gpm and 35 psi: 8.8 psi/100 ft by fluids, 0.433
        psi/ft [X]."""
        flow, bore = GPM.to_si(2.7), IN.to_si(0.5)
        speed = flow / (3.141592653589793 / 4 * bore**2)
        re = fluids.Reynolds(V=speed, D=bore, rho=WATER.density_kg_m3, mu=WATER.viscosity_pa_s)
        f = fluids.friction_factor(Re=re, eD=hydraulics.SMOOTH_M / bore)
        friction = f * FT.to_si(35) / bore * WATER.density_kg_m3 * speed**2 / 2
        tube = Tube(FT.to_si(35), bore, rise_m=FT.to_si(8))
        load = hydraulics.run_load(flow, tube, PSI.to_si(35), WATER)
        assert load == pytest.approx((PSI.from_si(friction) + 8 * 0.433) / 35, rel=0.01)


class TestControls:
    """A fixed bore follows the pressure, an elastomer hardly does."""

    @pytest.mark.parametrize("control", [FixedOrifice(7.8e-6), ConstantFlow(1.26e-4)])
    @given(pressures)
    def test_flow_is_the_inverse_of_pressure(self, control: Control, drop: float) -> None:
        flow = hydraulics.control_flow_m3_s(drop, control, WATER)
        assert hydraulics.control_pa(flow, control, WATER) == pytest.approx(drop, rel=1e-6)

    def test_elastomer_holds_the_flow(self) -> None:
        control = ConstantFlow(GPM.to_si(2.0))
        low, high = (
            hydraulics.control_flow_m3_s(PSI.to_si(psi), control, WATER) for psi in (20, 100)
        )
        assert 1.0 < high / low < 1.06
        assert low == pytest.approx(GPM.to_si(2.0), rel=0.02)

    def test_elastomer_does_not_hold_below_its_knee(self) -> None:
        control = ConstantFlow(GPM.to_si(2.0))
        flow = hydraulics.control_flow_m3_s(control.knee_pa / 4, control, WATER)
        assert flow == pytest.approx(GPM.to_si(1.0))

    def test_area_is_the_inverse_of_flow(self) -> None:
        area = hydraulics.orifice_area_m2(1e-4, 2e5, WATER, 0.62)
        assert hydraulics.orifice_flow_m3_s(area, 2e5, WATER, 0.62) == pytest.approx(1e-4)

    def test_orifice_in_fluids(self) -> None:
        """A nozzle in a very large pipe, with the same discharge coefficient."""
        expected = fluids.flow_meter_discharge(
            D=1.0,
            Do=0.003,
            P1=3e5,
            P2=1e5,
            rho=WATER.density_kg_m3,
            C=0.62,
            expansibility=1.0,
        )
        flow = hydraulics.orifice_flow_m3_s(circle_m2(0.003), 2e5, WATER, 0.62)
        assert flow * WATER.density_kg_m3 == pytest.approx(expected, rel=1e-9)


class TestBed:
    """Ergun's loss and the backwash that lifts the bed."""

    @given(st.floats(1e-6, 1e-3), st.floats(0.15, 0.5), st.floats(0.01, 0.15))
    def test_loss_in_fluids(self, flow: float, tank: float, resin: float) -> None:
        bed = Bed(tank, resin)
        expected = Ergun(
            dp=bed.bead_m,
            voidage=bed.voidage,
            vs=flow / bed.area_m2,
            rho=WATER.density_kg_m3,
            mu=WATER.viscosity_pa_s,
            L=bed.depth_m,
        )
        assert hydraulics.bed_pa(flow, bed, WATER) == pytest.approx(expected, rel=1e-9)

    @pytest.mark.parametrize("fahrenheit", [40.0, 60.0, 80.0])
    def test_settling_speed_in_fluids(self, fahrenheit: float) -> None:
        water = liquids.water(DEG_F.to_si(fahrenheit))
        expected = v_terminal(
            D=hydraulics.BEAD_M,
            rhop=hydraulics.BEAD_KG_M3,
            rho=water.density_kg_m3,
            mu=water.viscosity_pa_s,
            Method="Clift",
        )
        speed = hydraulics.settling_m_s(DEG_F.to_si(fahrenheit))
        assert speed == pytest.approx(expected, rel=0.05)

    @given(st.floats(275, 300), st.floats(0.15, 0.5))
    def test_warmer_water_needs_more_backwash(self, kelvin: float, tank: float) -> None:
        assert hydraulics.backwash_m3_s(tank, kelvin + 1) > hydraulics.backwash_m3_s(tank, kelvin)


class TestDrain:
    """What must hold for any drain: more in its way never gives more flow."""

    @given(pressures, drains)
    def test_flow_is_the_inverse_of_pressure(self, pressure: float, drain: Drain) -> None:
        flow = hydraulics.drain_flow_m3_s(pressure, drain, WATER)
        if flow > 0:
            back = hydraulics.drain_pa(flow, drain, WATER)
            assert back == pytest.approx(pressure, rel=1e-6, abs=0.1)
        else:
            assert pressure <= hydraulics.elevation_pa(drain.line.rise_m, WATER) + 0.1

    @given(
        pressures,
        drains,
        st.floats(0, 20),
        st.floats(0.3, 1),
        st.floats(0, 3),
        st.floats(0, 50),
    )
    def test_longer_thinner_higher_or_kinked_never_gives_more(
        self,
        pressure: float,
        drain: Drain,
        longer: float,
        thinner: float,
        higher: float,
        kink: float,
    ) -> None:
        line = drain.line
        before = hydraulics.drain_flow_m3_s(pressure, drain, WATER)
        for worse in (
            Tube(line.length_m + longer, line.bore_m, line.rise_m, line.fittings),
            Tube(line.length_m, line.bore_m * thinner, line.rise_m, line.fittings),
            Tube(line.length_m, line.bore_m, line.rise_m + higher, line.fittings),
            Tube(line.length_m, line.bore_m, line.rise_m, line.fittings + kink),
        ):
            after = hydraulics.drain_flow_m3_s(pressure, Drain(drain.control, worse), WATER)
            assert after <= before * (1 + 1e-9)

    @given(pressures, drains, st.floats(0, PSI.to_si(20)))
    def test_more_pressure_never_gives_less(self, low: float, drain: Drain, more: float) -> None:
        first = hydraulics.drain_flow_m3_s(low, drain, WATER)
        assert hydraulics.drain_flow_m3_s(low + more, drain, WATER) >= first * (1 - 1e-9)

    def test_an_elastomer_hides_a_moderate_loss(self) -> None:
        """Common practice, no source: backwash flow may be right behind a drain line that is
        too long for the brine step."""
        control = ConstantFlow(GPM.to_si(2.0))
        short, long = (
            hydraulics.drain_flow_m3_s(
                PSI.to_si(50), Drain(control, Tube(FT.to_si(feet), IN.to_si(0.5))), WATER
            )
            for feet in (10, 60)
        )
        assert short / long < 1.01

    def test_bed_counts(self) -> None:
        line = Tube(6.0, 0.0127)
        bare, with_bed = (
            hydraulics.drain_flow_m3_s(PSI.to_si(5), Drain(None, line, bed), WATER)
            for bed in (None, Bed(IN.to_si(9), FT3.to_si(1)))
        )
        assert with_bed < bare


class TestObstruction:
    """Borda and Carnot."""

    def test_in_fluids(self) -> None:
        """A sudden expansion from `clear` of the area; K carried to the velocity in the bore."""
        for clear in (0.1, 0.5, 0.9):
            narrow = fluids.diffuser_sharp(Di1=clear**0.5, Di2=1.0)
            assert hydraulics.obstruction(clear) == pytest.approx(narrow / clear**2, rel=1e-9)

    def test_nothing_in_the_way(self) -> None:
        assert hydraulics.obstruction(1.0) == 0.0
