/**
 * Units of requests and answers, with their exact size in SI. Inside the service every quantity is a plain number in the SI
 * unit of its dimension, converted once on input and once on output.
 *
 * | constant | value | source |
 * |---|---|---|
 * | inch | 0.0254 m | NIST SP 811, App. B: exact |
 * | foot | 0.3048 m | NIST SP 811, App. B: exact |
 * | mile | 1609.344 m | 5280 ft: exact |
 * | standard gravity | 9.80665 m/s2 | NIST SP 811, App. B: exact |
 * | avoirdupois pound | 0.45359237 kg | NIST SP 811, App. B: exact |
 * | avoirdupois ounce | 0.028349523125 kg | 1/16 of a pound: exact |
 */
export const INCH_M = 0.0254
export const FOOT_M = 0.3048
export const MILE_M = 1609.344
export const KM_M = 1000
const HOUR_S = 3600
const STANDARD_GRAVITY_M_PER_S2 = 9.80665
const POUND_KG = 0.45359237
const OUNCE_KG = 0.028349523125
const POUND_FORCE_N = POUND_KG * STANDARD_GRAVITY_M_PER_S2

/**
 * One unit: its size in the SI unit of its dimension, its zero point there (temperature), its UCUM code, its name.
 * `perSi` is given for units that divide the SI unit into a whole number: multiplying by 1000 keeps digits that dividing by
 * 0.001 loses.
 */
export interface Unit {
  readonly perUnit: number
  readonly perSi?: number
  readonly zero?: number
  readonly ucum: string
  readonly name: string
}

/** `suffix`: ends the name of a field that holds an SI value; `answers`: the unit keys used in answers; a request may use every key. */
export interface Dimension {
  readonly si: string
  readonly suffix: string
  readonly units: Readonly<Record<string, Unit>>
  readonly answers: readonly string[]
}

export const DIMENSIONS = {
  length: {
    si: 'm',
    suffix: 'M',
    units: {
      mm: { perUnit: 0.001, perSi: 1000, ucum: 'mm', name: 'millimeter' },
      in: { perUnit: INCH_M, ucum: '[in_i]', name: 'inch' },
    },
    answers: ['mm', 'in'],
  },
  distance: {
    si: 'm',
    suffix: 'M',
    units: {
      km: { perUnit: KM_M, ucum: 'km', name: 'kilometer' },
      mi: { perUnit: MILE_M, ucum: '[mi_i]', name: 'mile' },
      m: { perUnit: 1, ucum: 'm', name: 'meter' },
      ft: { perUnit: FOOT_M, ucum: '[ft_i]', name: 'foot' },
    },
    answers: ['km', 'mi'],
  },
  speed: {
    si: 'm/s',
    suffix: 'MPerS',
    units: {
      kmh: { perUnit: KM_M / HOUR_S, perSi: HOUR_S / KM_M, ucum: 'km/h', name: 'kilometer per hour' },
      mph: { perUnit: MILE_M / HOUR_S, ucum: '[mi_i]/h', name: 'mile per hour' },
    },
    answers: ['kmh', 'mph'],
  },
  perDistance: {
    si: '1/m',
    suffix: 'PerM',
    units: {
      perKm: { perUnit: 1 / KM_M, perSi: KM_M, ucum: '/km', name: 'per kilometer' },
      perMile: { perUnit: 1 / MILE_M, perSi: MILE_M, ucum: '/[mi_i]', name: 'per mile' },
    },
    answers: ['perKm', 'perMile'],
  },
  'rotational-speed': {
    si: '1/s (turns per second)',
    suffix: 'PerS',
    units: { rpm: { perUnit: 1 / 60, perSi: 60, ucum: '{revolution}/min', name: 'turn per minute' } },
    answers: ['rpm'],
  },
  frequency: {
    si: 'Hz',
    suffix: 'Hz',
    units: { hz: { perUnit: 1, ucum: 'Hz', name: 'hertz' } },
    answers: ['hz'],
  },
  time: {
    si: 's',
    suffix: 'S',
    units: {
      s: { perUnit: 1, ucum: 's', name: 'second' },
      ms: { perUnit: 1e-3, perSi: 1000, ucum: 'ms', name: 'millisecond' },
      us: { perUnit: 1e-6, perSi: 1e6, ucum: 'us', name: 'microsecond' },
    },
    answers: ['s'],
  },
  torque: {
    si: 'N.m',
    suffix: 'Nm',
    units: {
      mNm: { perUnit: 1e-3, perSi: 1000, ucum: 'mN.m', name: 'millinewton meter' },
      ozIn: {
        perUnit: OUNCE_KG * STANDARD_GRAVITY_M_PER_S2 * INCH_M,
        ucum: '[oz_av].[g].[in_i]',
        name: 'ounce-force inch',
      },
    },
    answers: ['mNm', 'ozIn'],
  },
  mass: {
    si: 'kg',
    suffix: 'Kg',
    units: {
      kg: { perUnit: 1, ucum: 'kg', name: 'kilogram' },
      g: { perUnit: 1e-3, perSi: 1000, ucum: 'g', name: 'gram' },
      lb: { perUnit: POUND_KG, ucum: '[lb_av]', name: 'pound' },
      oz: { perUnit: OUNCE_KG, ucum: '[oz_av]', name: 'ounce' },
    },
    answers: ['kg', 'lb'],
  },
  density: {
    si: 'kg/m3',
    suffix: 'KgPerM3',
    units: {
      kgPerM3: { perUnit: 1, ucum: 'kg/m3', name: 'kilogram per cubic meter' },
      gPerCm3: { perUnit: 1000, ucum: 'g/cm3', name: 'gram per cubic centimeter' },
    },
    answers: ['kgPerM3'],
  },
  force: {
    si: 'N',
    suffix: 'N',
    units: {
      n: { perUnit: 1, ucum: 'N', name: 'newton' },
      lbf: { perUnit: POUND_FORCE_N, ucum: '[lbf_av]', name: 'pound-force' },
    },
    answers: ['n', 'lbf'],
  },
  stress: {
    si: 'Pa',
    suffix: 'Pa',
    units: {
      mpa: { perUnit: 1e6, ucum: 'MPa', name: 'megapascal' },
      psi: {
        perUnit: POUND_FORCE_N / (INCH_M * INCH_M),
        ucum: '[psi]',
        name: 'pound-force per square inch',
      },
    },
    answers: ['mpa', 'psi'],
  },
  unbalance: {
    si: 'kg.m',
    suffix: 'KgM',
    units: {
      gMm: { perUnit: 1e-6, perSi: 1e6, ucum: 'g.mm', name: 'gram millimeter' },
      ozIn: { perUnit: OUNCE_KG * INCH_M, ucum: '[oz_av].[in_i]', name: 'ounce inch' },
    },
    answers: ['gMm', 'ozIn'],
  },
  angle: {
    si: 'rad',
    suffix: 'Rad',
    units: { deg: { perUnit: Math.PI / 180, ucum: 'deg', name: 'degree' } },
    answers: ['deg'],
  },
  voltage: {
    si: 'V',
    suffix: 'V',
    units: {
      v: { perUnit: 1, ucum: 'V', name: 'volt' },
      mv: { perUnit: 1e-3, perSi: 1000, ucum: 'mV', name: 'millivolt' },
    },
    answers: ['v'],
  },
  current: {
    si: 'A',
    suffix: 'A',
    units: {
      a: { perUnit: 1, ucum: 'A', name: 'ampere' },
      ma: { perUnit: 1e-3, perSi: 1000, ucum: 'mA', name: 'milliampere' },
    },
    answers: ['a'],
  },
  resistance: {
    si: 'Ohm',
    suffix: 'Ohm',
    units: {
      ohm: { perUnit: 1, ucum: 'Ohm', name: 'ohm' },
      kohm: { perUnit: 1000, ucum: 'kOhm', name: 'kiloohm' },
    },
    answers: ['ohm'],
  },
  capacitance: {
    si: 'F',
    suffix: 'F',
    units: {
      pf: { perUnit: 1e-12, perSi: 1e12, ucum: 'pF', name: 'picofarad' },
      nf: { perUnit: 1e-9, perSi: 1e9, ucum: 'nF', name: 'nanofarad' },
      uf: { perUnit: 1e-6, perSi: 1e6, ucum: 'uF', name: 'microfarad' },
    },
    answers: ['pf', 'nf'],
  },
  temperatureDifference: {
    si: 'K',
    suffix: 'K',
    units: { k: { perUnit: 1, ucum: 'K', name: 'kelvin' } },
    answers: ['k'],
  },
  span: {
    si: 'm',
    suffix: 'M',
    units: {
      m: { perUnit: 1, ucum: 'm', name: 'meter' },
      ft: { perUnit: FOOT_M, ucum: '[ft_i]', name: 'foot' },
      mm: { perUnit: 0.001, perSi: 1000, ucum: 'mm', name: 'millimeter' },
      in: { perUnit: INCH_M, ucum: '[in_i]', name: 'inch' },
    },
    answers: ['m', 'ft'],
  },
  area: {
    si: 'm2',
    suffix: 'M2',
    units: {
      mm2: { perUnit: 1e-6, perSi: 1e6, ucum: 'mm2', name: 'square millimeter' },
      cm2: { perUnit: 1e-4, perSi: 1e4, ucum: 'cm2', name: 'square centimeter' },
      in2: { perUnit: INCH_M * INCH_M, ucum: '[sin_i]', name: 'square inch' },
    },
    answers: ['mm2', 'in2'],
  },
  power: {
    si: 'W',
    suffix: 'W',
    units: {
      w: { perUnit: 1, ucum: 'W', name: 'watt' },
      mw: { perUnit: 1e-3, perSi: 1000, ucum: 'mW', name: 'milliwatt' },
    },
    answers: ['w'],
  },
  energy: { si: 'J', suffix: 'J', units: { j: { perUnit: 1, ucum: 'J', name: 'joule' } }, answers: ['j'] },
  powerPerLength: {
    si: 'W/m',
    suffix: 'WPerM',
    units: { wPerM: { perUnit: 1, ucum: 'W/m', name: 'watt per meter' } },
    answers: ['wPerM'],
  },
  resistancePerLength: {
    si: 'Ohm/m',
    suffix: 'OhmPerM',
    units: { ohmPerKm: { perUnit: 1 / KM_M, perSi: KM_M, ucum: 'Ohm/km', name: 'ohm per kilometer' } },
    answers: ['ohmPerKm'],
  },
  capacitancePerLength: {
    si: 'F/m',
    suffix: 'FPerM',
    units: {
      pfPerM: { perUnit: 1e-12, perSi: 1e12, ucum: 'pF/m', name: 'picofarad per meter' },
      pfPerFt: { perUnit: 1e-12 / FOOT_M, ucum: 'pF/[ft_i]', name: 'picofarad per foot' },
    },
    answers: ['pfPerM', 'pfPerFt'],
  },
  heatTransfer: {
    si: 'W/(m2.K)',
    suffix: 'WPerM2K',
    units: {
      wPerM2K: { perUnit: 1, ucum: 'W.m-2.K-1', name: 'watt per square meter and kelvin' },
    },
    answers: ['wPerM2K'],
  },
  temperature: {
    si: 'K',
    suffix: 'K',
    units: {
      c: { perUnit: 1, zero: 273.15, ucum: 'Cel', name: 'degree Celsius' },
      f: { perUnit: 5 / 9, zero: 459.67 * (5 / 9), ucum: '[degF]', name: 'degree Fahrenheit' },
    },
    answers: ['c', 'f'],
  },
  motorConstant: {
    si: 'N.m/A',
    suffix: 'NmPerA',
    units: {
      mNmPerA: { perUnit: 1e-3, perSi: 1000, ucum: 'mN.m/A', name: 'millinewton meter per ampere' },
      vPerKrpm: {
        perUnit: 60 / (2000 * Math.PI),
        ucum: 'V/(1000.{revolution}/min)',
        name: 'volt per 1000 turns per minute',
      },
    },
    answers: ['mNmPerA', 'vPerKrpm'],
  },
  thermalResistance: {
    si: 'K/W',
    suffix: 'KPerW',
    units: { kPerW: { perUnit: 1, ucum: 'K/W', name: 'kelvin per watt' } },
    answers: ['kPerW'],
  },
  luminance: {
    si: 'cd/m2',
    suffix: 'CdPerM2',
    units: { cdPerM2: { perUnit: 1, ucum: 'cd/m2', name: 'candela per square meter' } },
    answers: ['cdPerM2'],
  },
  illuminance: {
    si: 'lx',
    suffix: 'Lx',
    units: { lx: { perUnit: 1, ucum: 'lx', name: 'lux' } },
    answers: ['lx'],
  },
  visualAngle: {
    si: 'rad',
    suffix: 'Rad',
    units: { arcmin: { perUnit: Math.PI / 10_800, ucum: "'", name: 'minute of arc' } },
    answers: ['arcmin'],
  },
} as const satisfies Record<string, Dimension>

export type DimensionName = keyof typeof DIMENSIONS
export type UnitKey<D extends DimensionName> = keyof (typeof DIMENSIONS)[D]['units'] & string
export type AnswerUnitKey<D extends DimensionName> = (typeof DIMENSIONS)[D]['answers'][number] & string

const unitOf = (dimension: DimensionName, key: string): Unit => {
  const unit = (DIMENSIONS[dimension].units as Readonly<Record<string, Unit>>)[key]
  if (unit === undefined) throw new RangeError(`no unit ${key} of ${dimension}`)
  return unit
}

/**
 * Converts a value to SI.
 *
 *     x_SI = x · size of the unit  (+ zero point, for temperature)
 *
 * @param dimension - Quantity, a key of `DIMENSIONS`
 * @param key - Unit key of that quantity
 * @param value - Value in that unit
 * @returns Value in the SI unit of the dimension
 * @throws {RangeError} for a key that is not a unit of the dimension (a programming error: the schemas admit no other)
 * @see NIST SP 811:2008, App. B (inch, foot, ounce, standard gravity: exact)
 * @example toSi('length', 'in', 1) // 0.0254 ± 0
 * @example toSi('speed', 'mph', 60) // 26.8224 ± 1e-12
 * @example toSi('torque', 'ozIn', 1) // 0.007061551814 ± 1e-12
 * @example toSi('temperature', 'f', 32) // 273.15 ± 1e-10
 */
export function toSi<D extends DimensionName>(dimension: D, key: UnitKey<D>, value: number): number {
  return differenceToSi(dimension, key, value) + (unitOf(dimension, key).zero ?? 0)
}

/**
 * Converts an SI value to a unit; the inverse of `toSi`.
 *
 *     x = (x_SI − zero point) / size of the unit
 *
 * @param dimension - Quantity, a key of `DIMENSIONS`
 * @param key - Unit key of that quantity
 * @param valueSi - Value in the SI unit of the dimension
 * @returns Value in that unit
 * @throws {RangeError} for a key that is not a unit of the dimension
 * @see NIST SP 811:2008, App. B
 * @example fromSi('perDistance', 'perKm', 1000 / 1609.344) // 621.3712 ± 1e-4
 */
export function fromSi<D extends DimensionName>(dimension: D, key: UnitKey<D>, valueSi: number): number {
  return differenceFromSi(dimension, key, valueSi - (unitOf(dimension, key).zero ?? 0))
}

/**
 * Converts a difference of two values (an uncertainty, an error) to SI, without a zero point.
 *
 *     Δx_SI = Δx · size of the unit
 *
 * @param dimension - Quantity, a key of `DIMENSIONS`
 * @param key - Unit key of that quantity
 * @param value - Difference in that unit
 * @returns Difference in the SI unit
 * @throws {RangeError} for a key that is not a unit of the dimension
 * @see NIST SP 811:2008, App. B
 * @example differenceToSi('temperature', 'f', 9) // 5 ± 1e-12
 */
export function differenceToSi<D extends DimensionName>(
  dimension: D,
  key: UnitKey<D>,
  value: number,
): number {
  const { perUnit, perSi } = unitOf(dimension, key)
  return perSi === undefined ? value * perUnit : value / perSi
}

/**
 * Converts a difference in SI to a unit; the inverse of `differenceToSi`.
 *
 *     Δx = Δx_SI / size of the unit
 *
 * @param dimension - Quantity, a key of `DIMENSIONS`
 * @param key - Unit key of that quantity
 * @param valueSi - Difference in the SI unit
 * @returns Difference in that unit
 * @throws {RangeError} for a key that is not a unit of the dimension
 * @see NIST SP 811:2008, App. B
 * @example differenceFromSi('temperature', 'f', 5) // 9 ± 1e-12
 */
export function differenceFromSi<D extends DimensionName>(
  dimension: D,
  key: UnitKey<D>,
  valueSi: number,
): number {
  const { perUnit, perSi } = unitOf(dimension, key)
  return perSi === undefined ? valueSi / perUnit : valueSi * perSi
}
