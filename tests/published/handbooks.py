"""Handbook fits evaluated with the coefficients that the package ``chemicals`` carries."""

from __future__ import annotations

from chemicals import critical, phase_change, safety, vapor_pressure, volume
from chemicals.dippr import EQ101, EQ105, EQ106
from chemicals.identifiers import MW

CAS = {
    "n-Butane": "106-97-8",
    "IsoButane": "75-28-5",
    "n-Propane": "74-98-6",
    "Isopentane": "78-78-4",
    "n-Pentane": "109-66-0",
    "Neopentane": "463-82-1",
    "Cyclopentane": "287-92-3",
    "DimethylEther": "115-10-6",
    "Ammonia": "7664-41-7",
    "R134a": "811-97-2",
    "R152A": "75-37-6",
    "R245fa": "460-73-1",
    "R227EA": "431-89-0",
    "R236ea": "431-63-0",
    "Ethanol": "64-17-5",
    "Methanol": "67-56-1",
    "Acetone": "67-64-1",
    "Water": "7732-18-5",
}


def perry_pressure(fluid: str, T: float) -> float:
    """Vapour pressure [Pa] at T [K], Perry 8th ed. Table 2-8."""
    row = vapor_pressure.Psat_data_Perrys2_8.loc[CAS[fluid]]
    assert row.Tmin <= T <= row.Tmax
    return EQ101(T, row.C1, row.C2, row.C3, row.C4, row.C5)


def poling_pressure(fluid: str, T: float) -> float:
    """Vapour pressure [Pa] at T [K], Poling 5th ed. Appendix A: Wagner, extended Antoine or Antoine."""
    cas = CAS[fluid]
    wagner = vapor_pressure.Psat_data_WagnerPoling
    if cas in wagner.index:
        r = wagner.loc[cas]
        return vapor_pressure.Wagner(T, r.Tc, r.Pc, r.A, r.B, r.C, r.D)
    extended = vapor_pressure.Psat_data_AntoineExtended
    if cas in extended.index and extended.loc[cas].Tmin <= T <= extended.loc[cas].Tmax:
        r = extended.loc[cas]
        return vapor_pressure.TRC_Antoine_extended(T, r.Tc, r.to, r.A, r.B, r.C, r.n, r.E, r.F)
    r = vapor_pressure.Psat_data_AntoinePoling.loc[cas]
    assert r.Tmin <= T <= r.Tmax
    return vapor_pressure.Antoine(T, r.A, r.B, r.C)


def crc_latent_heat(fluid: str) -> float:
    """Molar enthalpy of vaporisation [J/mol] at 25 degC, CRC Handbook."""
    return float(phase_change.Hvap_data_CRC.loc[CAS[fluid]].Hvap298)


def perry_latent_heat(fluid: str) -> float:
    """Molar enthalpy of vaporisation [J/mol] at 25 degC, Perry 8th ed. Table 2-150."""
    r = phase_change.phase_change_data_Perrys2_150.loc[CAS[fluid]]
    return EQ106(298.15, r.Tc, r.C1, r.C2, r.C3, r.C4)


def perry_density(fluid: str, T: float) -> float:
    """Density of the saturated liquid [kg/m3] at T [K], Perry 8th ed."""
    r = volume.rho_data_Perry_8E_105_l.loc[CAS[fluid]]
    return EQ105(T, r.C1, r.C2, r.C3, r.C4) * MW(CAS[fluid]) * 1e-3


def boiling_point(fluid: str, method: str) -> float:
    """Normal boiling point [K]; ``method`` CRC_ORG or YAWS."""
    return phase_change.Tb(CAS[fluid], method=method)


def critical_temperature(fluid: str) -> float:
    """Critical temperature [K], IUPAC reviews."""
    return critical.Tc(CAS[fluid], method="IUPAC")


def iec_flammability_limit(fluid: str) -> float:
    """Lower flammability limit, share of the volume [-], IEC 60079-20-1:2010."""
    return safety.LFL(CASRN=CAS[fluid], method="IEC 60079-20-1 (2010)")
