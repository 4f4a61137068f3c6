// What each fuel needs of air: stoichiometric air-fuel ratios from chemistry, blends by mass.

/** Stoichiometric air-fuel ratio of the scale that plain `AFR` displays use, whatever is in the tank (US DOE figure for gasoline). */
export const GASOLINE_SCALE_AFR = 14.7;

export interface Fuel {
  readonly name: string;
  /** Air-fuel ratio by mass at lambda 1. */
  readonly stoichAfr: number;
  /** Liquid at 15 °C; undefined for gases and where it is not known. */
  readonly densityKgPerM3?: number;
  /** Percent ethanol by volume, for blends of ethanol and gasoline. */
  readonly ethanolPercent?: number;
  /** Hydrogen and oxygen atoms for each carbon atom; undefined for fuels without carbon. */
  readonly hydrogenPerCarbon?: number;
  readonly oxygenPerCarbon?: number;
}

interface Molecule {
  readonly c: number;
  readonly h: number;
  readonly o?: number;
  readonly n?: number;
}

// Atomic weights, g/mol: IUPAC/CIAAW abridged standard values, 2021.
const WEIGHT_G_PER_MOL = { c: 12.011, h: 1.008, o: 15.999, n: 14.007 } as const;
// Dry air for each mole of its oxygen: 28.9647 g/mol over 20.95 % O2 (US Standard Atmosphere 1976).
const AIR_G_PER_MOL_O2 = 28.9647 / 0.2095;

const molarMassGPerMol = ({ c, h, o = 0, n = 0 }: Molecule): number =>
  c * WEIGHT_G_PER_MOL.c + h * WEIGHT_G_PER_MOL.h + o * WEIGHT_G_PER_MOL.o + n * WEIGHT_G_PER_MOL.n;

/**
 * Air-fuel ratio by mass that burns a fuel of this formula to CO2, H2O and N2 with nothing left over.
 * Source: reaction balance, as in Heywood, Internal Combustion Engine Fundamentals, ch. 3.
 */
export const stoichAfrOf = (molecule: Molecule): number =>
  ((molecule.c + molecule.h / 4 - (molecule.o ?? 0) / 2) * AIR_G_PER_MOL_O2) / molarMassGPerMol(molecule);

const pure = (name: string, molecule: Molecule, densityKgPerM3?: number): Fuel => ({
  name,
  stoichAfr: stoichAfrOf(molecule),
  ...(densityKgPerM3 === undefined ? {} : { densityKgPerM3 }),
  ...(molecule.c > 0 ? { hydrogenPerCarbon: molecule.h / molecule.c, oxygenPerCarbon: (molecule.o ?? 0) / molecule.c } : {}),
});

// Gasoline has no one formula: 14.7 is the figure everyone's gasoline scale stands on (chemistry of CH1.87 gives 14.60).
const GASOLINE: Fuel = {
  name: 'gasoline',
  stoichAfr: GASOLINE_SCALE_AFR,
  densityKgPerM3: 745,
  ethanolPercent: 0,
  hydrogenPerCarbon: 1.87,
  oxygenPerCarbon: 0,
};
const ETHANOL: Fuel = { ...pure('ethanol', { c: 2, h: 6, o: 1 }, 794), ethanolPercent: 100 };
const METHANOL = pure('methanol', { c: 1, h: 4, o: 1 }, 796);

// Densities at 15 °C: US DOE Alternative Fuels Data Center, EN 228 and EN 590 mid-range; the pure substances from memory of handbooks.
const NAMED: readonly (readonly [fuel: Fuel, ...otherNames: string[]])[] = [
  [GASOLINE, 'petrol', 'gas', 'unleaded'],
  [ETHANOL, 'alcohol', 'etoh'],
  [METHANOL, 'meth', 'meoh'],
  [pure('propane', { c: 3, h: 8 }, 508), 'lpg', 'autogas'],
  [pure('methane', { c: 1, h: 4 }), 'cng'], // natural gas comes near methane only where it is almost pure
  [pure('butane', { c: 4, h: 10 }, 585)],
  [pure('hydrogen', { c: 0, h: 2 }), 'h2'],
  [pure('diesel', { c: 1, h: 1.8 }, 835)],
  [pure('nitromethane', { c: 1, h: 3, o: 2, n: 1 }, 1140), 'nitro'],
  [pure('toluene', { c: 7, h: 8 }, 871)],
  [pure('benzene', { c: 6, h: 6 }, 884)],
  [pure('isooctane', { c: 8, h: 18 }, 696), 'iso-octane'],
  [pure('heptane', { c: 7, h: 16 }, 688), 'n-heptane'],
  [pure('mtbe', { c: 5, h: 12, o: 1 }, 745)],
];

const BY_NAME: ReadonlyMap<string, Fuel> = new Map(
  NAMED.flatMap(([fuel, ...others]) => [fuel.name, ...others].map((name) => [name.replace(/[\s_-]/g, ''), fuel] as const)),
);

/** Fuels that are burnt far from lambda 1 on purpose: no limit of a mixture or a target holds for them. */
const BURNT_OTHERWISE: ReadonlySet<string> = new Set(['hydrogen', 'diesel', 'nitromethane']);
export const isBurntOtherwise = ({ name }: Fuel): boolean => BURNT_OTHERWISE.has(name);

/** Names that `fuelOf` knows besides the blends `E0` to `E100` and `M0` to `M100`, the usual one of each fuel. */
export const FUEL_NAMES: readonly string[] = NAMED.map(([fuel]) => fuel.name);

const carbonPerGram = (fuel: Fuel): number =>
  1 / (WEIGHT_G_PER_MOL.c + (fuel.hydrogenPerCarbon ?? 0) * WEIGHT_G_PER_MOL.h + (fuel.oxygenPerCarbon ?? 0) * WEIGHT_G_PER_MOL.o);

const blendOf = (name: string, alcohol: Fuel, alcoholPercent: number): Fuel => {
  const share = alcoholPercent / 100;
  const alcoholKg = share * (alcohol.densityKgPerM3 ?? NaN);
  const gasolineKg = (1 - share) * (GASOLINE.densityKgPerM3 ?? NaN);
  const byMass = alcoholKg / (alcoholKg + gasolineKg);
  const alcoholCarbon = byMass * carbonPerGram(alcohol);
  const gasolineCarbon = (1 - byMass) * carbonPerGram(GASOLINE);
  const perCarbon = (of: (fuel: Fuel) => number): number =>
    (alcoholCarbon * of(alcohol) + gasolineCarbon * of(GASOLINE)) / (alcoholCarbon + gasolineCarbon);
  return {
    name,
    stoichAfr: byMass * alcohol.stoichAfr + (1 - byMass) * GASOLINE.stoichAfr,
    densityKgPerM3: alcoholKg + gasolineKg,
    ...(alcohol === ETHANOL ? { ethanolPercent: alcoholPercent } : {}),
    hydrogenPerCarbon: perCarbon((fuel) => fuel.hydrogenPerCarbon ?? 0),
    oxygenPerCarbon: perCarbon((fuel) => fuel.oxygenPerCarbon ?? 0),
  };
};

/**
 * Gasoline with this much ethanol, percent by volume (0 to 100), as a flex-fuel sensor tells it. The parts need air by their mass:
 * volume shares are weighted with the densities (794 and 745 kg/m³ at 15 °C).
 */
export const ethanolBlend = (ethanolPercent: number): Fuel => blendOf(`E${ethanolPercent}`, ETHANOL, ethanolPercent);

/**
 * The fuel of a name (`gasoline`, `ethanol`, `methanol`, `propane`, …) or of a blend by volume (`E10`, `E 85`, `M85`); case, blanks and
 * hyphens do not matter. Undefined for names that are not known and shares outside 0 to 100.
 */
export const fuelOf = (blend: string): Fuel | undefined => {
  if (blend.length > 40) return undefined;
  const name = blend.toLowerCase().replace(/[\s_-]/g, '');
  const named = BY_NAME.get(name);
  if (named) return named;
  const match = /^([em])(\d{1,3}(?:\.\d{1,3})?)$/.exec(name);
  const percent = match ? Number(match[2]) : NaN;
  if (!match || !(percent <= 100)) return undefined;
  return match[1] === 'e' ? ethanolBlend(percent) : blendOf(`M${percent}`, METHANOL, percent);
};
