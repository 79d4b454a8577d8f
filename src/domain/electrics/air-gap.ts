import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { type BudgetLine, budget } from '../measure/budget.js'
import { type ConformityResult, conformityProbability, conformityResult } from '../measure/conformity.js'
import { exact, type Figure, uncertain } from '../measure/figure.js'
import { cautionNote, infoNote, type Note } from '../measure/notes.js'
import { propagate, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'
import { standardUncertainty } from '../measure/uncertainty.js'
import type { Mutable } from '../mutable.js'

/** A pulse ring, by its outside diameter or by the module of its teeth. */
export type Ring = {
  readonly teeth: number
  readonly toothWidthM?: Figure
  readonly toothDepthM?: Figure
} & ({ readonly outsideDiameterM: Figure } | { readonly moduleM: Figure })

export interface AirGapRequest {
  readonly sensor: 'active' | 'variable-reluctance'
  /** Measured or planned, at any one place of the ring, with the shaft at either end of its play. */
  readonly gapM: Figure
  readonly ring: Ring
  /** Total reading of a dial gauge over one turn. */
  readonly runOutM?: Figure
  /** Play of the shaft toward the sensor, total. */
  readonly playM?: Figure
  /** Limits of the gap from the sensor's data sheet. [m] */
  readonly limits?: { readonly minM?: number; readonly maxM?: number }
}

export type AirGapCheckKind =
  | 'clear-of-ring'
  | 'min-gap'
  | 'max-gap'
  | 'gap-over-module'
  | 'tooth-share'
  | 'tooth-depth'
  | 'run-out'

export interface AirGapCheck {
  readonly kind: AirGapCheckKind
  readonly result: ConformityResult
  readonly probability: number
  readonly text: string
}

export interface AirGap {
  readonly moduleM: Figure
  /** Along the outside circumference. */
  readonly pitchM: Figure
  readonly diameterM: Figure
  readonly smallestGapM: Figure
  readonly largestGapM: Figure
  /** Tooth width over pitch [%]. */
  readonly toothSharePercent?: Figure
  /** Amplitude modulation by run-out: largest over smallest amplitude in a turn, minus one [%]. */
  readonly amplitudeModulationPercent: Figure
  /** Amplitude of the once-per-turn error of speed [%], e/r. */
  readonly oncePerTurnErrorPercent: Figure
  readonly checks: readonly AirGapCheck[]
  readonly budget: readonly BudgetLine[]
  readonly assumptions: readonly Assumption[]
  readonly sources: readonly SourceId[]
  readonly notes: readonly Note[]
}

/** Tooth over pitch that counts as near 50:50 [%]; common practice, no source. */
const TOOTH_SHARE = { min: 40, max: 60 }
/** Maximum air gap over module; common practice, no source. */
const GAP_PER_MODULE = 0.5
/** Maximum run-out over air gap; common practice, no source. */
const RUN_OUT_PER_GAP = 0.25

/**
 * Ratio of the signal amplitudes at two air gaps.
 *
 *     A(g₁)/A(g₂) = exp(2π·(g₂ − g₁)/p)
 *
 * A is the amplitude at a gap g, p the pitch of the ring.
 *
 * The field of a periodic ring obeys Laplace's equation, so the decay of its first harmonic depends on the pitch alone. The
 * teeth are assumed long compared with the gap.
 *
 * @param differenceM - g₂ − g₁. [m]
 * @param pitchM - p. [m]
 * @returns Ratio of the amplitudes
 * @throws {DomainError} `not-finite` for a pitch of zero or a difference of hundreds of pitches
 * @see derived: Laplace's equation above a periodic boundary
 * @example amplitudeRatio(exact(1e-3), exact(2e-3 * Math.PI)).value // 2.718281828 ± 1e-9
 */
export function amplitudeRatio(differenceM: Figure, pitchM: Figure): Figure {
  const exponent = scaled(quotient(differenceM, pitchM), 2 * Math.PI)
  const value = Math.exp(exponent.value)
  return propagate(value, [[exponent, value]])
}

/**
 * Air gap and ring of a pick-up: the gap over a whole turn, and whether sensor and ring are compatible.
 *
 *     m = D/z,  p = π·D/z;  gap from ḡ − (run-out + play)/2 to ḡ + (run-out + play)/2
 *     ḡ = g,  u(ḡ)² = u(g)² + (run-out/2)²/2 + (play/2)²
 *     amplitude varies by exp(2π·run-out/p) in a turn;  speed by ± (run-out/2)/(D/2)
 *
 * D is the diameter of the ring, z its number of teeth, m the module, p the pitch, g the gap as measured, ḡ its mean over a turn.
 *
 * g is the gap at any one place. Run-out is a sine wave of unknown phase, so half the run-out enters by its mean square, half
 * of its square. The shaft rests at one end of its play or the other, so half the play enters in full.
 *
 * Each check gives a probability from the uncertainty of the readings; without uncertainty, yes or no.
 *
 * @param request - Sensor, gap [m], ring, run-out and play [m], the sensor's own limits if known
 * @returns Geometry, gaps, modulation and checks
 * @throws {DomainError} `limits-crossed` for a run-out above the pitch, a tooth as wide as the pitch, or swapped limits of the gap
 * @see service data on active sensors (0.2 to 1.5 mm); ring proportions: common practice; modulation derived
 * @example airGap({ sensor: 'active', gapM: exact(0.8e-3), ring: { teeth: 40, outsideDiameterM: exact(0.1) } }).pitchM.value // 0.00785398 ± 1e-8
 * @example plusMinus(airGap({ sensor: 'active', gapM: exact(0.8e-3), playM: exact(0.1e-3), ring: { teeth: 40, outsideDiameterM: exact(0.1) } }).smallestGapM) // 0.0001 ± 1e-15
 */
export function airGap(request: AirGapRequest): AirGap {
  const taken: Assumption[] = []
  const sources: SourceId[] = ['gum', 'ring-proportions', 'periodic-field-decay', 'caller-reading']
  const { ring, gapM } = request
  const diameterM = 'moduleM' in ring ? scaled(ring.moduleM, ring.teeth) : ring.outsideDiameterM
  const moduleM = scaled(diameterM, 1 / ring.teeth)
  const pitchM = scaled(moduleM, Math.PI)
  const runOutM = assumed(
    request.runOutM,
    exact(0),
    { field: '/runOut', value: '0: not measured', standing: 'common-practice' },
    taken,
  )
  const playM = assumed(
    request.playM,
    exact(0),
    { field: '/play', value: '0: not measured', standing: 'common-practice' },
    taken,
  )
  if (runOutM.value > pitchM.value) {
    throw new DomainError(
      'limits-crossed',
      `runOut: expected at most the pitch of ${show(pitchM.value)}, got ${show(runOutM.value)}; such a ring cannot give an even signal`,
      { pointer: '/runOut', max: pitchM.value, value: runOutM.value },
    )
  }
  const sway = scaled(sum(runOutM, playM), 0.5)
  const meanGapM = meanGapOf(gapM, runOutM, playM, taken)
  const smallestGapM = sum(meanGapM, scaled(sway, -1))
  const largestGapM = sum(meanGapM, sway)
  const limits = gapLimits(request, taken, sources)
  const checks = [
    ...gapChecks({ gapM, smallestGapM, largestGapM, moduleM, runOutM }, limits),
    ...toothChecks(ring, moduleM, pitchM),
  ]
  const result: Mutable<AirGap> = {
    moduleM,
    pitchM,
    diameterM,
    smallestGapM,
    largestGapM,
    amplitudeModulationPercent: scaled(sum(amplitudeRatio(runOutM, pitchM), exact(-1)), 100),
    oncePerTurnErrorPercent: scaled(quotient(runOutM, diameterM), 100),
    checks,
    budget: budget(largestGapM),
    assumptions: taken,
    sources,
    notes: airGapNotes(request, checks),
  }
  if (ring.toothWidthM !== undefined) result.toothSharePercent = toothSharePercent(ring.toothWidthM, pitchM)
  return result
}

function gapChecks(
  {
    gapM,
    smallestGapM,
    largestGapM,
    moduleM,
    runOutM,
  }: Pick<AirGap, 'smallestGapM' | 'largestGapM' | 'moduleM'> & {
    readonly gapM: Figure
    readonly runOutM: Figure
  },
  [minM, maxM]: readonly [number, number],
): AirGapCheck[] {
  return [
    check('clear-of-ring', smallestGapM, 'The ring clears the sensor over the whole turn.'),
    check('min-gap', sum(smallestGapM, exact(-minM)), `The smallest gap is at least ${show(minM)}.`),
    check('max-gap', sum(exact(maxM), scaled(largestGapM, -1)), `The largest gap is at most ${show(maxM)}.`),
    check(
      'gap-over-module',
      sum(scaled(moduleM, GAP_PER_MODULE), scaled(largestGapM, -1)),
      `The largest gap is at most half the module, ${show(moduleM.value * GAP_PER_MODULE)}.`,
    ),
    check(
      'run-out',
      sum(scaled(gapM, RUN_OUT_PER_GAP), scaled(runOutM, -1)),
      `The run-out is at most a quarter of the gap, ${show(gapM.value * RUN_OUT_PER_GAP)}.`,
    ),
  ]
}

const toothSharePercent = (toothWidthM: Figure, pitchM: Figure) => scaled(quotient(toothWidthM, pitchM), 100)

function toothChecks({ toothWidthM, toothDepthM }: Ring, moduleM: Figure, pitchM: Figure): AirGapCheck[] {
  const checks: AirGapCheck[] = []
  if (toothWidthM !== undefined) {
    if (toothWidthM.value >= pitchM.value) {
      throw new DomainError(
        'limits-crossed',
        `toothWidth: expected less than the pitch of ${show(pitchM.value)}, got ${show(toothWidthM.value)}`,
        { pointer: '/ring/toothWidth', max: pitchM.value, value: toothWidthM.value },
      )
    }
    const share = toothSharePercent(toothWidthM, pitchM)
    const { min, max } = TOOTH_SHARE
    const probability = conformityProbability(share.value, standardUncertainty(share), min, max)
    checks.push({
      kind: 'tooth-share',
      probability,
      result: conformityResult(probability),
      text: `The tooth takes ${min} to ${max} % of the pitch.`,
    })
  }
  if (toothDepthM !== undefined) {
    checks.push(
      check(
        'tooth-depth',
        sum(toothDepthM, scaled(moduleM, -1)),
        `The gap between teeth is at least one module deep, ${show(moduleM.value)}.`,
      ),
    )
  }
  return checks
}

function airGapNotes({ sensor }: AirGapRequest, checks: readonly AirGapCheck[]): Note[] {
  const notes: Note[] = [
    cautionNote(
      'work-on-stands',
      'Turn the wheel by hand with the car on axle stands, never on a jack alone; tighten hub, axle and differential fasteners to the torque in the workshop manual.',
    ),
  ]
  if (checks.some(({ kind, result }) => kind === 'clear-of-ring' && result !== 'conforms')) {
    notes.push(
      cautionNote(
        'ring-may-touch',
        'The ring is not proven to clear the sensor: contact breaks the sensor and can jam the shaft. Widen the gap before you drive.',
      ),
    )
  }
  if (sensor === 'variable-reluctance') {
    notes.push(
      infoNote(
        'gap-sets-lowest-speed',
        'The amplitude of this sensor falls steeply with the gap; the lowest speed that still triggers rises by the same factor. Keep the gap as small as run-out and play allow.',
      ),
    )
  }
  return notes
}

/** Mean gap of a turn: the gap may be measured at any place of the turn, and the shaft rests at either end of its play. */
function meanGapOf(gapM: Figure, runOutM: Figure, playM: Figure, taken: Assumption[]): Figure {
  if (runOutM.value === 0 && playM.value === 0) return gapM
  taken.push({
    field: '/gap',
    value: 'at any one place of the turn, the shaft at either end of its play',
    standing: 'common-practice',
  })
  return sum(
    gapM,
    // A sine wave of amplitude half the run-out at unknown phase: its rms. Half the play, to either side: in full.
    uncertain(0, 'gap: place in the turn', runOutM.value / 2 / Math.SQRT2),
    uncertain(0, 'gap: position of the shaft in its play', playM.value / 2),
  )
}

const show = (valueM: number) => `${(valueM * 1000).toFixed(3)} mm`

function check(kind: AirGapCheckKind, margin: Figure, text: string): AirGapCheck {
  const probability = conformityProbability(
    margin.value,
    standardUncertainty(margin),
    0,
    Number.POSITIVE_INFINITY,
  )
  return { kind, probability, result: conformityResult(probability), text }
}

/** Limits of an active sensor are published; for a variable-reluctance sensor the same ones are assumed, as common practice. */
function gapLimits(
  { sensor, limits = {} }: AirGapRequest,
  taken: Assumption[],
  sources: SourceId[],
): readonly [number, number] {
  const standing = sensor === 'active' ? 'published' : 'common-practice'
  const minM = assumed(limits.minM, 0.2e-3, { field: '/limits/min', value: '0.2 mm', standing }, taken)
  const maxM = assumed(limits.maxM, 1.5e-3, { field: '/limits/max', value: '1.5 mm', standing }, taken)
  if (limits.minM === undefined || limits.maxM === undefined) sources.push('active-sensor-gap')
  if (minM >= maxM) {
    throw new DomainError(
      'limits-crossed',
      `limits: expected min below max, got ${show(minM)} and ${show(maxM)}`,
      { pointer: '/limits', min: minM, max: maxM },
    )
  }
  return [minM, maxM]
}
