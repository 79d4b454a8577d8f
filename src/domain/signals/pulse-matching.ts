/** Maximum number of periods on each side in a local median. */
const WIDEST_HALF = 64

/** Insertion place of a value in the sorted first `length` values of `window`. */
function placeOf(window: Float64Array, length: number, value: number): number {
  let low = 0
  let high = length
  while (low < high) {
    const middle = (low + high) >> 1
    if (window[middle]! < value) low = middle + 1
    else high = middle
  }
  return low
}

/** Typical period around each period of a log, and how much the periods near it differ. */
export interface LocalPeriods {
  readonly typicalS: Float64Array
  /** Interquartile range over the typical period. */
  readonly spread: Float64Array
}

/** Factor around the median within which periods enter the mean: both gaps of a ring of four with joints of 0.45 (1.58) do, a missed pulse does not. */
const NEAR_MEDIAN = 1.6

/**
 * Typical period around each period of a log: the mean of those near the median.
 *
 *     x̃ = median of d over i − h .. i + h;   typical = mean of d within x̃/1.6 .. 1.6·x̃;   spread = (upper − lower quartile)/typical
 *
 * d are the periods.
 *
 * The window is centered on each period, so that neither a steady change of speed nor a few missed or extra pulses move the
 * mean. The median alone is not enough: on a ring of four with two wide gaps it switches between a wide and a narrow one.
 *
 * @param periodsS - Periods in order. [s, >= 0]
 * @param half - h, periods on each side. [1 .. 64]
 * @returns Typical period [s] and spread around each period; at the ends the window shifts inward, since a shortened one could not outvote an outlier
 * @see NIST/SEMATECH e-Handbook 1.3.5.1 (median, trimmed mean), 1.3.5.6 (quartiles)
 * @example localPeriods(Float64Array.of(2, 2, 9, 2, 2), 2).typicalS.join() // "2,2,2,2,2"
 * @example localPeriods(Float64Array.of(2.4, 1.6, 2.4, 1.6, 4, 2.4, 1.6, 2.4, 1.6), 4).typicalS[4] // 2 ± 1e-12
 */
export function localPeriods(periodsS: Float64Array, half: number): LocalPeriods {
  const n = periodsS.length
  const h = Math.min(WIDEST_HALF, half)
  const typicalS = new Float64Array(n)
  const spread = new Float64Array(n)
  const window = new Float64Array(2 * h + 2)
  let length = 0
  const insert = (value: number) => {
    const place = placeOf(window, length, value)
    window.copyWithin(place + 1, place, length)
    window[place] = value
    length++
  }
  const remove = (value: number) => {
    const place = placeOf(window, length, value)
    window.copyWithin(place, place + 1, length)
    length--
  }
  let from = 0
  let to = 0
  for (let i = 0; i < n; i++) {
    const wantedFrom = Math.max(0, Math.min(i - h, n - 2 * h - 1))
    const wantedTo = Math.min(n, Math.max(i + h + 1, 2 * h + 1))
    while (to < wantedTo) insert(periodsS[to++]!)
    while (from < wantedFrom) remove(periodsS[from++]!)
    const middle = window[length >> 1]!
    const end = placeOf(window, length, middle * NEAR_MEDIAN)
    let near = 0
    let total = 0
    for (let place = placeOf(window, length, middle / NEAR_MEDIAN); place < end; place++) {
      total += window[place]!
      near++
    }
    const typical = near === 0 ? middle : total / near
    typicalS[i] = typical
    spread[i] = (window[(3 * length) >> 2]! - window[length >> 2]!) / typical
  }
  return { typicalS, spread }
}

/** Maximum change of the typical period over a window in which one pulse is distinguishable from two. */
const STEADY_RATIO = 1.5
/** Maximum interquartile range over the typical period; beyond it there is no typical period. */
const WIDEST_QUARTILES = 1
/** A silence longer than this many periods is a stop. */
const LONGEST_SILENCE = 40

/**
 * Stretches of a log in which the speed changes slowly enough to count the pulses.
 *
 *     typical periods half a window before and after differ by a factor below 1.5;  interquartile range below one typical period;
 *     no period above 40 typical ones
 *
 * @param periodsS - Periods in order. [s]
 * @param local - Typical period around each, and the spread there
 * @param half - Half the window
 * @param minPulses - Minimum number of pulses of a stretch
 * @returns First and last pulse of each stretch; period i lies between pulses i and i + 1
 * @see a choice of this service; a steady ramp over the window stays within the ratio
 * @example steadyStretches(Float64Array.of(1, 1, 1, 1, 90, 1, 1, 1), { typicalS: new Float64Array(8).fill(1), spread: new Float64Array(8) }, 1, 3) // [[0,4],[5,8]]
 */
export function steadyStretches(
  periodsS: Float64Array,
  local: LocalPeriods,
  half: number,
  minPulses: number,
): Array<[number, number]> {
  const { typicalS, spread } = local
  const n = periodsS.length
  const stretches: Array<[number, number]> = []
  let from = -1
  for (let i = 0; i <= n; i++) {
    let steady = false
    if (i < n) {
      const a = typicalS[Math.max(0, i - half)]!
      const b = typicalS[Math.min(n - 1, i + half)]!
      steady =
        Math.min(a, b) > 0 &&
        spread[i]! < WIDEST_QUARTILES &&
        Math.max(a, b) < STEADY_RATIO * Math.min(a, b) &&
        periodsS[i]! <= LONGEST_SILENCE * typicalS[i]!
    }
    if (steady && from < 0) from = i
    if (!steady && from >= 0) {
      if (i - from + 1 >= minPulses) stretches.push([from, i])
      from = -1
    }
  }
  return stretches
}

/** Assignment of the recorded pulses of a stretch to the pulses of the ring. */
export interface Matching {
  /** Indexes of the recorded pulses that are pulses of the ring, ascending. */
  readonly pulses: Int32Array
  /** Number of each in the count of the ring, from 0. */
  readonly counts: Int32Array
  /** Gap of the ring that follows the first of them. */
  readonly phase: number
}

/** Expected distance between pulses of the ring in pitches, and how well it is known. */
export interface Expectation {
  /** Errors of the gaps of a turn as shares of the pitch; a single zero for an unknown ring. */
  readonly gapErrors: Float64Array
  /** Spread of a period around its expected value, as a share of it. */
  readonly spread: number
  /** Cost of a missed or of an extra pulse: minus the logarithm of its probability. */
  readonly penalty: number
  /** Whether any gap may be off by up to half a pitch at a limited cost; set while the gap errors are unknown. */
  readonly oddGaps: boolean
}

/** An edge off by more than this share of the pitch is another edge. */
const MAX_ODD_GAP = 0.5
/**
 * Maximum cost of an odd gap, in penalties. Below 1: a misplaced tooth makes two odd gaps, which must cost less than a missed plus
 * an extra pulse. Above 1/2: an extra pulse in the middle of a gap makes two odd gaps as well.
 */
const MAX_ODD_GAP_COST = 0.75

/** Maximum number of extra pulses between two pulses of the ring. */
const MAX_EXTRA = 4
/** Maximum number of consecutive missed pulses before the count is lost. */
const MAX_MISSED = 30
/** From this distance to the nearest whole number of pitches, the next whole number is tried as well. */
const UNCERTAIN = 0.25
/** Maximum number of pitches between two pulses for a pulse between them to count as extra. */
const WIDEST_WITH_EXTRA = 3.5

/**
 * Most likely assignment of recorded pulses to the ring, with missed and extra pulses.
 *
 *     minimize Σ (Δt/P − Δs)²/(2σ²) + penalty·(missed + extra)   over all assignments and phases, by dynamic programming
 *     with odd gaps: a deviation of less than half a pitch costs at most ¾ of a penalty
 *
 * P is the typical period, σ the spread of a period as a share of it.
 *
 * Δs is the distance on the ring between the two pulses: a whole number of pitches plus the errors of the gaps in between. The
 * whole stretch is decided together: a pulse is extra only if leaving it out makes its neighbors fit, and a ring with known errors
 * keeps the count synchronized, since a lost count would make every later gap wrong.
 *
 * @param timesS - Moments of the recorded pulses. [s]
 * @param typicalS - Typical period at each recorded pulse. [s, > 0]
 * @param from - First recorded pulse of the stretch
 * @param to - Last recorded pulse of the stretch
 * @param expected - Ring and spread
 * @returns The recorded pulses that belong to the ring, their numbers, and the phase of the ring
 * @see shortest path through a chain of states (R. Bellman, Dynamic Programming, 1957; from memory)
 * @example matchPulses(Float64Array.of(0, 1, 1.3, 2, 4, 5), new Float64Array(6).fill(1), 0, 5, { gapErrors: new Float64Array(1), spread: 0.01, penalty: 10, oddGaps: false }).pulses.join() // "0,1,3,4,5"
 */
export function matchPulses(
  timesS: Float64Array,
  typicalS: Float64Array,
  from: number,
  to: number,
  expected: Expectation,
): Matching {
  const { gapErrors, spread, penalty, oddGaps } = expected
  const turn = gapErrors.length
  // Position of each tooth against an even ring.
  const offsets = new Float64Array(turn)
  for (let i = 1; i < turn; i++) offsets[i] = offsets[i - 1]! + gapErrors[i - 1]!
  const n = to - from + 1
  const half = 1 / (2 * spread * spread)
  const maxOddCost = oddGaps ? MAX_ODD_GAP_COST * penalty : Number.POSITIVE_INFINITY
  // Costs are stored only for the pulses of the look-back window; the step taken (pulses back, pitches × 8) for all.
  const rows = MAX_EXTRA + 2
  const cost = new Float64Array(rows * turn)
  const stepTaken = new Uint8Array(n * turn)
  /** Relaxes the step to pulse j from the one `back` pulses before, over `steps` pitches, for every tooth. */
  const consider = (j: number, back: number, pitches: number, steps: number) => {
    const row = (j % rows) * turn
    const before = ((j - back) % rows) * turn
    const fixed = penalty * (back - 1 + (steps - 1))
    // The typical period has an uncertainty of its own, which grows with the number of pitches.
    const weight = half / (1 + 0.2 * (steps - 1) * (steps - 1))
    const step = back | (steps << 3)
    let tooth = steps % turn
    for (let start = 0; start < turn; start++) {
      const error = pitches - steps - (offsets[tooth]! - offsets[start]!)
      const full = error * error * weight
      const deviation = full > maxOddCost && Math.abs(error) < MAX_ODD_GAP ? maxOddCost : full
      const total = cost[before + start]! + deviation + fixed
      if (total < cost[row + tooth]!) {
        cost[row + tooth] = total
        stepTaken[j * turn + tooth] = step
      }
      if (++tooth === turn) tooth = 0
    }
  }
  for (let j = 0; j < n; j++) {
    const row = (j % rows) * turn
    // Up to MAX_EXTRA pulses at the start may be extra. At either end that costs double: otherwise a missed pulse before the last
    // would cost no less than an extra last one.
    cost.fill(j <= MAX_EXTRA ? 2 * j * penalty : Number.POSITIVE_INFINITY, row, row + turn)
    for (let back = 1; back <= MAX_EXTRA + 1 && back <= j; back++) {
      const i = j - back
      const pitches = (timesS[from + j]! - timesS[from + i]!) / typicalS[from + ((i + j) >> 1)]!
      if (back > 1 && pitches > WIDEST_WITH_EXTRA) break
      // Both neighboring whole numbers, if either is possible.
      const nearest = Math.max(1, Math.min(MAX_MISSED + 1, Math.round(pitches)))
      const other =
        pitches > nearest + UNCERTAIN ? nearest + 1 : pitches < nearest - UNCERTAIN ? nearest - 1 : 0
      consider(j, back, pitches, nearest)
      if (other > 0 && other <= MAX_MISSED + 1) consider(j, back, pitches, other)
    }
  }
  let last = n - 1
  let tooth = 0
  let cheapest = Number.POSITIVE_INFINITY
  for (let j = n - 1; j >= Math.max(0, n - 1 - MAX_EXTRA); j--) {
    for (let c = 0; c < turn; c++) {
      const total = cost[(j % rows) * turn + c]! + 2 * penalty * (n - 1 - j)
      if (total < cheapest) {
        cheapest = total
        last = j
        tooth = c
      }
    }
  }
  // From the last pulse back to the first, filled from the end: lists of a million numbers that grow would take several times the memory.
  const pulses = new Int32Array(last + 1)
  const counts = new Int32Array(last + 1)
  let place = last
  for (let j = last; ; place--) {
    const step = stepTaken[j * turn + tooth]!
    pulses[place] = from + j
    counts[place] = step >> 3
    if (step === 0) break
    j -= step & 7
    tooth = (tooth - ((step >> 3) % turn) + turn) % turn
  }
  for (let next = place + 1; next <= last; next++) counts[next]! += counts[next - 1]!
  return { pulses: pulses.subarray(place), counts: counts.subarray(place), phase: tooth }
}
