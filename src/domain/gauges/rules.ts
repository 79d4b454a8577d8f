import type { SourceId } from '../measure/sources.js'
import { toSi } from '../measure/units.js'

/** A bound on indicated minus true: a part that grows with the true speed, and a constant. */
export interface Bound {
  readonly percentOfTrue: number
  readonly constantMPerS: number
}

/** Limits of a rule on the indicated speed. */
export type SpeedLimits =
  /** Bounds on indicated minus true, over a range of true speeds, ends included unless `above`. */
  | {
      readonly kind: 'band'
      readonly lower?: Bound
      readonly upper?: Bound
      readonly fromMPerS?: number
      readonly toMPerS?: number
      /** The range starts above `fromMPerS`, not at it. */
      readonly above?: boolean
      /** The upper bound holds from the lowest to the highest test speed only; the lower one over the whole range. */
      readonly upperAtTestSpeeds?: boolean
    }
  /** Limits at single true speeds. */
  | { readonly kind: 'points'; readonly points: readonly SpeedPoint[] }
  /** Over-reading up to a share of full scale, in the upper part of the dial; no under-reading from a true speed on. */
  | {
      readonly kind: 'full-scale'
      readonly upperShareOfScale: number
      /** The upper part starts at this share of full scale, or at `fromMarkMPerS`, whichever is lower. */
      readonly fromShareOfScale: number
      readonly fromMarkMPerS: number
      readonly neverUnderFromMPerS: number
    }

export interface SpeedPoint {
  readonly trueMPerS: number
  readonly lowerMPerS: number
  readonly upperMPerS: number
}

export interface Rule {
  readonly title: string
  readonly jurisdiction: string
  readonly applies: string
  readonly source: SourceId
  readonly speed?: SpeedLimits
  /** Nominal test speeds. */
  readonly testSpeedsMPerS: readonly number[]
  readonly testSpeedsAre: 'true' | 'indicated'
  /** Below this top speed, 80 % of it replaces the highest test speed. */
  readonly reducedBelowTopSpeedMPerS?: number
  /** Maximum error of the odometer, either way, as a fraction. */
  readonly distanceFraction?: number
}

const kmh = (value: number) => toSi('speed', 'kmh', value)
const mph = (value: number) => toSi('speed', 'mph', value)
const bound = (percentOfTrue: number, constantKmh: number): Bound => ({
  percentOfTrue,
  constantMPerS: kmh(constantKmh),
})

const NEVER_UNDER = bound(0, 0)
/**
 * The indicated speed is never below the true speed, at any speed (the texts, from memory); the upper bound applies at the test speeds. Between
 * them 75/443/EEC states it; elsewhere it follows, since bound and dial are straight lines.
 */
const TYPE_APPROVAL: SpeedLimits = {
  kind: 'band',
  lower: NEVER_UNDER,
  upper: bound(10, 4),
  upperAtTestSpeeds: true,
}
const APPROVAL_SPEEDS = [40, 80, 120].map(kmh)

const approval = {
  speed: TYPE_APPROVAL,
  testSpeedsMPerS: APPROVAL_SPEEDS,
  testSpeedsAre: 'true',
  reducedBelowTopSpeedMPerS: kmh(150),
} as const

const recording = (speedKmh: number, distanceFraction: number) =>
  ({
    jurisdiction: 'Contracting parties of the AETR; European Union',
    source: 'aetr-appendix-1',
    speed: { kind: 'band', lower: bound(0, -speedKmh), upper: bound(0, speedKmh) },
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
    distanceFraction,
  }) as const

/**
 * The rule table. Every bound is on indicated minus true; percentages of the odometer are either way.
 * An aid, not legal advice: rules differ by country and date, and the authority decides.
 */
export const RULES = {
  'un-r39': {
    title: 'UN Regulation No. 39, type approval',
    jurisdiction: 'Contracting parties of the 1958 Agreement',
    applies:
      'Vehicles of categories M and N at type approval: no under-reading at any speed; the upper limit at 40, 80 and 120 km/h.',
    source: 'un-r39',
    ...approval,
  },
  'un-r39-production': {
    title: 'UN Regulation No. 39, conformity of production',
    jurisdiction: 'Contracting parties of the 1958 Agreement',
    applies:
      'Vehicles of categories M and N from production: no under-reading at any speed; the upper limit at 40, 80 and 120 km/h.',
    source: 'un-r39-production',
    ...approval,
    speed: { ...TYPE_APPROVAL, upper: bound(10, 6) },
  },
  'eec-75-443': {
    title: 'European Directive 75/443/EEC',
    jurisdiction: 'European Union, former approvals',
    applies:
      'Motor vehicles approved under the directive: no under-reading at any speed; the upper limit at 40, 80 and 120 km/h (or 80 % of the top speed where that is below 150 km/h) and between.',
    source: 'eec-75-443',
    ...approval,
  },
  'au-adr-18-03': {
    title: 'Australian Design Rule 18/03',
    jurisdiction: 'Australia',
    applies:
      'New models from 1 July 2006; the nominal test speed is the indicated speed, held within 2 km/h.',
    source: 'au-adr-18-03',
    ...approval,
    testSpeedsAre: 'indicated',
  },
  'au-adr-18-earlier': {
    title: 'Australian Design Rule 18 before July 2006',
    jurisdiction: 'Australia',
    applies:
      'Models before 1 July 2006, above 40 km/h: within 10 % either way; odometer within 4 % either way.',
    source: 'au-adr-18-earlier',
    speed: { kind: 'band', lower: bound(-10, 0), upper: bound(10, 0), fromMPerS: kmh(40), above: true },
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
    distanceFraction: 0.04,
  },
  'de-before-1991': {
    title: 'German StVZO section 57, wording for vehicles first registered before 1991',
    jurisdiction: 'Germany',
    applies:
      'Vehicles first registered before 1 January 1991: over-reading of 0 to 7 % of full scale in the last two thirds of the dial, at the latest from the 50 km/h mark; no under-reading from 20 km/h; odometer within 4 % either way.',
    source: 'de-stvzo-57',
    speed: {
      kind: 'full-scale',
      upperShareOfScale: 0.07,
      fromShareOfScale: 1 / 3,
      fromMarkMPerS: kmh(50),
      neverUnderFromMPerS: kmh(20),
    },
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
    distanceFraction: 0.04,
  },
  'de-odometer': {
    title: 'German StVZO section 57(3), odometer',
    jurisdiction: 'Germany',
    applies: 'Odometers, either way.',
    source: 'de-stvzo-57',
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
    distanceFraction: 0.04,
  },
  'us-49-cfr-393-82': {
    title: 'US 49 CFR 393.82, commercial vehicles',
    jurisdiction: 'United States',
    applies: 'Commercial motor vehicles, at 50 mph.',
    source: 'us-49-cfr-393-82',
    speed: { kind: 'points', points: [{ trueMPerS: mph(50), lowerMPerS: mph(45), upperMPerS: mph(55) }] },
    testSpeedsMPerS: [mph(50)],
    testSpeedsAre: 'true',
  },
  'cn-gb-15082': {
    title: 'Chinese standard GB 15082',
    jurisdiction: 'China',
    applies: 'Motor vehicles: no under-reading at any speed; the upper limit at 40, 80 and 120 km/h.',
    source: 'cn-gb-15082',
    ...approval,
  },
  'au-nsw-40a': {
    title: 'Australia, New South Wales, clause 40A',
    jurisdiction: 'Australia, New South Wales',
    applies: 'Vehicles made from 1 July 1974, above 50 km/h: under-reading of at most 10 %; no upper limit.',
    source: 'au-nsw-40a',
    speed: { kind: 'band', lower: bound(-10, 0), fromMPerS: kmh(50), above: true },
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
  },
  'us-army-bench-1944': {
    title: 'US Army bench readings of 1944, TM 9-1829A',
    jurisdiction: 'United States Army, workshop practice',
    applies: 'A speedometer head on the bench, at 10, 30 and 60 mph.',
    source: 'tm-9-1829a',
    speed: {
      kind: 'points',
      points: [
        { trueMPerS: mph(10), lowerMPerS: mph(9), upperMPerS: mph(11) },
        { trueMPerS: mph(30), lowerMPerS: mph(30), upperMPerS: mph(32) },
        { trueMPerS: mph(60), lowerMPerS: mph(60), upperMPerS: mph(63) },
      ],
    },
    testSpeedsMPerS: [mph(10), mph(30), mph(60)],
    testSpeedsAre: 'true',
  },
  'recording-bench': {
    title: 'Tachograph before installation, EU and AETR',
    applies: 'Recording equipment on the bench: 3 km/h, 1 % of distance over at least 1 km.',
    ...recording(3, 0.01),
  },
  'recording-installed': {
    title: 'Tachograph on installation, EU and AETR',
    applies: 'Recording equipment when installed: 4 km/h, 2 % of distance over at least 1 km.',
    ...recording(4, 0.02),
  },
  'recording-in-use': {
    title: 'Tachograph in use, EU and AETR',
    applies: 'Recording equipment in use: 6 km/h, 4 % of distance over at least 1 km.',
    ...recording(6, 0.04),
  },
  'uk-1986-reg-35': {
    title: 'British Construction and Use Regulations 1986, regulation 35',
    jurisdiction: 'United Kingdom',
    applies:
      'None required on vehicles first used before 1 October 1937; both mph and km/h shown if first used from 1 April 1984. Sets no accuracy limit of its own.',
    source: 'uk-1986-reg-35',
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
  },
  'us-49-usc-32703': {
    title: 'US 49 USC 32703-32704, odometers',
    jurisdiction: 'United States',
    applies:
      'Odometer fraud is prohibited; if a repair cannot preserve the mileage, the odometer is set to zero and a notice is fixed to the left door frame. Sets no accuracy limit.',
    source: 'us-49-usc-32703',
    testSpeedsMPerS: [],
    testSpeedsAre: 'true',
  },
} as const satisfies Record<string, Rule>

export type RuleId = keyof typeof RULES
