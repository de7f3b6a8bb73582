"""The works quoted, in full; a data file names one as ``key/table or clause``."""

from __future__ import annotations

SOURCES = {
    "perry": "Green and Perry, Perry's Chemical Engineers' Handbook, 8th ed., 2007",
    "poling": "Poling, Prausnitz and O'Connell, The Properties of Gases and Liquids, 5th ed., 2001",
    "crc": "Haynes (ed.), CRC Handbook of Chemistry and Physics, 95th ed., 2014",
    "iupac": "Ambrose, Young, Marsh and others, Vapor-Liquid Critical Properties of Elements and Compounds,"
    " J. Chem. Eng. Data, 1995-2015",
    "yaws": "Yaws, Thermophysical Properties of Chemicals and Hydrocarbons (as in the package chemicals)",
    "dinicola": "Di Nicola, Fedele, Brown, Bobbo and Coccia, Saturated Pressure Measurements of R1233zd(E),"
    " J. Chem. Eng. Data, 2017",
    "thol": "Thol and Lemmon, Equation of State for the Thermodynamic Properties of R1234ze(E),"
    " Int. J. Thermophys. 37, 2016",
    "makers": "makers' data sheets",
    "iapws95": "IAPWS R6-95(2018), Formulation 1995 for General and Scientific Use",
    "if97": "IAPWS R7-97(2012), Industrial Formulation 1997",
    "adr": "UNECE, Agreement concerning the International Carriage of Dangerous Goods by Road (ADR)",
    "moran": "Moran, Shapiro and others, Fundamentals of Engineering Thermodynamics (edition not recorded)",
    "cengel": "Cengel and Boles, Thermodynamics: An Engineering Approach, 5th ed., 2006",
    "sonntag": "Sonntag, Borgnakke and Van Wylen, Fundamentals of Thermodynamics (edition not recorded)",
    "saleh": "Saleh, Koglbauer, Wendland and Fischer, Working fluids for low-temperature organic Rankine cycles,"
    " Energy 32, 2007, 1210",
    "chambadal": "Chambadal, Les centrales nucleaires, 1957",
    "kays": "Kays and London, Compact Heat Exchangers, 3rd ed., 1984",
    "bergman": "Bergman, Lavine, Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, 7th ed., 2011",
    "joel": "Joel, Basic Engineering Thermodynamics (edition not recorded)",
    "singh": "Singh, Applied Thermodynamics (edition not recorded)",
    "lineham": "Lineham, A Text-Book of Mechanical Engineering (edition not recorded)",
    "molesworth": "Molesworth, Pocket-Book of Engineering Formulae (edition not recorded)",
    "technical": "American Technical Society, Steam Engines, about 1915",
    "gutenberg": "Project Gutenberg e-book 12490",
    "spa": "Reda and Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302, 2008",
    "hay": "Hay and Davies, Calculation of the Solar Radiation Incident on an Inclined Surface, 1980",
    "duffie": "Duffie and Beckman, Solar Engineering of Thermal Processes, 4th ed., 2013",
    "brandemuehl": "Brandemuehl and Beckman, Transmission of Diffuse Radiation through CPC and Flat Plate Collector"
    " Glazings, Solar Energy 24, 1980",
    "spf": "SPF Rapperswil, collector test report C762",
    "iso9806": "ISO 9806:2017, Solar thermal collectors, test methods",
    "tmy3": "Wilcox and Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156, 2008",
    "tmy2": "Marion and Urban, User's Manual for TMY2s, NREL/SP-463-7668, 1995",
    "eu812": "Commission Delegated Regulation (EU) 812/2013",
    "eu814": "Commission Regulation (EU) 814/2013",
    "iso2533": "ISO 2533:1975, Standard Atmosphere",
    "en13445": "EN 13445-3, Unfired pressure vessels, design",
    "asme8": "ASME Boiler and Pressure Vessel Code, Section VIII, Division 1",
    "ped": "Directive 2014/68/EU on pressure equipment",
    "iso817": "ISO 817, Refrigerants, designation and safety classification",
    "ashrae34": "ANSI/ASHRAE Standard 34, Designation and Safety Classification of Refrigerants",
    "iec60079": "IEC 60079-20-1:2010, Material characteristics for gas and vapour classification",
    "nfpa497": "NFPA 497, Classification of Flammable Liquids, Gases, or Vapors, 2008",
    "gbt7778": "GB/T 7778-2017, list of classes, the same as ISO 817",
    "ontario": "Ontario, Occupational exposure limits for workplaces",
    "en378": "EN 378-1, Refrigerating systems and heat pumps, Annex C",
    "moocore": "Lopez-Ibanez, moocore: Core Mathematical Functions for Multi-Objective Optimization, documentation",
    "zitzler": "Zitzler, Deb and Thiele, Comparison of Multiobjective Evolutionary Algorithms, Evol. Comput. 8, 2000",
    "dtlz": "Deb, Thiele, Laumanns and Zitzler, Scalable Multi-Objective Optimization Test Problems, CEC 2002",
    "deb": "Deb, Pratap, Agarwal and Meyarivan, A Fast and Elitist Multiobjective Genetic Algorithm: NSGA-II,"
    " IEEE Trans. Evol. Comput. 6, 2002",
    "park": "Park, Contemporary Engineering Economics, appendix of interest factors",
    "williams": "Williams, Six-tenths Factor Aids in Approximating Costs, Chem. Eng. 54(12), 1947, 124",
    "quaschning": "Quaschning, Renewable Energy and Climate Change, 2010",
    "sp811": "NIST Special Publication 811, Guide for the Use of the SI, 2008",
    "peng": "Peng and Robinson, A New Two-Constant Equation of State, Ind. Eng. Chem. Fundam. 15, 1976, 59",
    "lechatelier": "Le Chatelier, Estimation of Firedamp by Flammability Limits, Ann. Mines 19, 1891, 388",
    "gnielinski": "Gnielinski, New Equations for Heat and Mass Transfer in Turbulent Pipe and Channel Flow,"
    " Int. Chem. Eng. 16, 1976, 359",
    "rohsenow": "Rohsenow, Hartnett and Cho, Handbook of Heat Transfer, 3rd ed., 1998",
    "vdi93": "Gorenflo, Pool Boiling, VDI Heat Atlas, 1993",
    "liu": "Liu and Winterton, A General Correlation for Saturated and Subcooled Flow Boiling in Tubes and Annuli,"
    " Int. J. Heat Mass Transfer 34, 1991, 2759",
    "hewitt": "Hewitt, Shires and Bott, Process Heat Transfer, 1994",
    "shah": "Shah, A General Correlation for Heat Transfer during Film Condensation inside Pipes,"
    " Int. J. Heat Mass Transfer 22, 1979, 547",
    "colebrook": "Colebrook, Turbulent Flow in Pipes, J. Inst. Civ. Eng. 11, 1939, 133",
    "mueller": "Mueller-Steinhagen and Heck, A Simple Friction Pressure Drop Correlation for Two-Phase Flow in Pipes,"
    " Chem. Eng. Process. 20, 1986, 297",
    "iso3666": "ISO/TR 3666:1998, Viscosity of water",
    "ramires": "Ramires et al., Standard Reference Data for the Thermal Conductivity of Water, J. Phys. Chem. Ref."
    " Data 24, 1995, 1377",
    "hand": "worked out by hand from the definition",
    "practice": "what gauges on bottled gas show",
}


def cite(reference: str) -> str:
    """Return the full citation of ``key/table or clause``."""
    key, _, place = reference.partition("/")
    return f"{SOURCES[key]}, {place}" if place else SOURCES[key]
