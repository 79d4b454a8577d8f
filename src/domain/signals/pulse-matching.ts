/** Most periods on each side that a local median looks at. */
const WIDEST_HALF = 64

/** Where a sorted stretch of `window` takes a value. */
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

/** Usual period about each period of a log, and how much the periods near it differ. */
export interface LocalPeriods {
  readonly defaultS: Float64Array
  /** Distance of the quartiles over the usual period. */
  readonly spread: Float64Array
}

/** Periods within this factor of the median count: both gaps of a ring of four with joints of 0.45 do (1.58), a missed pulse does not. */
const NEAR_MEDIAN = 1.6

/**
 * Usual period about each period of a log: the mean of those near the median.
 *
 *     x̃ = median of d over i − h .. i + h;   usual = mean of d within x̃/1.6 .. 1.6·x̃;   spread = (upper − lower quartile)/usual
 *
 * d are the periods.
 *
 * The window lies evenly about each period, so that a steady rise of the speed does not move the mean, and a few missed or extra
 * pulses do not either. The median alone would not do: on a ring of four with two wide gaps it is now a wide one, now a narrow one.
 *
 * @param periodsS - Periods in order. [s, >= 0]
 * @param half - h, periods on each side. [1 .. 64]
 * @returns Usual period [s] and spread about each period; at an end the window leans inward, for one cut short could not outvote an outlier
 * @see NIST/SEMATECH e-Handbook 1.3.5.1 (median, trimmed mean), 1.3.5.6 (quartiles)
 * @example localPeriods(Float64Array.of(2, 2, 9, 2, 2), 2).defaultS.join() // "2,2,2,2,2"
 * @example localPeriods(Float64Array.of(2.4, 1.6, 2.4, 1.6, 4, 2.4, 1.6, 2.4, 1.6), 4).defaultS[4] // 2 ± 1e-12
 */
export function localPeriods(periodsS: Float64Array, half: number): LocalPeriods {
  const n = periodsS.length
  const h = Math.min(WIDEST_HALF, half)
  const defaultS = new Float64Array(n)
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
    const usual = near === 0 ? middle : total / near
    defaultS[i] = usual
    spread[i] = (window[(3 * length) >> 2]! - window[length >> 2]!) / usual
  }
  return { defaultS, spread }
}

/** Largest change of the usual period over the width of a window in which one pulse can be told from two. */
const STEADY_RATIO = 1.5
/** Largest distance of the quartiles, over the usual period: beyond it there is none. */
const WIDEST_QUARTILES = 1
/** A silence of more than so many periods is a stop. */
const LONGEST_SILENCE = 40

/**
 * Stretches of a log in which the speed changes slowly enough for the pulses to be counted.
 *
 *     usual periods half a window before and behind differ by less than half;  quartiles within one usual period;
 *     no period beyond 40 usual ones
 *
 * @param periodsS - Periods in order. [s]
 * @param local - Usual period about each, and the spread there
 * @param half - Half of the window
 * @param least - Fewest pulses of a stretch
 * @returns First and last pulse of each stretch; period i lies between pulses i and i + 1
 * @see a choice of this service; a steady ramp over the window stays within the ratio
 * @example steadyStretches(Float64Array.of(1, 1, 1, 1, 90, 1, 1, 1), { defaultS: new Float64Array(8).fill(1), spread: new Float64Array(8) }, 1, 3) // [[0,4],[5,8]]
 */
export function steadyStretches(
  periodsS: Float64Array,
  local: LocalPeriods,
  half: number,
  least: number,
): Array<[number, number]> {
  const { defaultS, spread } = local
  const n = periodsS.length
  const stretches: Array<[number, number]> = []
  let from = -1
  for (let i = 0; i <= n; i++) {
    let steady = false
    if (i < n) {
      const a = defaultS[Math.max(0, i - half)]!
      const b = defaultS[Math.min(n - 1, i + half)]!
      steady =
        Math.min(a, b) > 0 &&
        spread[i]! < WIDEST_QUARTILES &&
        Math.max(a, b) < STEADY_RATIO * Math.min(a, b) &&
        periodsS[i]! <= LONGEST_SILENCE * defaultS[i]!
    }
    if (steady && from < 0) from = i
    if (!steady && from >= 0) {
      if (i - from + 1 >= least) stretches.push([from, i])
      from = -1
    }
  }
  return stretches
}

/** Which pulse of the ring each recorded pulse of a stretch is. */
export interface Matching {
  /** Recorded pulses that are pulses of the ring, ascending indexes. */
  readonly pulses: Int32Array
  /** Number of each in the count of the ring, from 0. */
  readonly counts: Int32Array
  /** Gap of the ring that follows the first of them. */
  readonly phase: number
}

/** How far two pulses of the ring are apart in pitches, and how well that is known. */
export interface Expectation {
  /** Errors of the gaps of a turn as shares of the pitch; one zero for a ring that is not known. */
  readonly gapErrors: Float64Array
  /** Spread of a period about what is expected, as a share of it. */
  readonly spread: number
  /** Cost of a missed or of an extra pulse: minus the logarithm of its probability. */
  readonly penalty: number
  /** Whether any gap may be off by up to half a pitch at a limited cost: while the errors of the gaps are not known. */
  readonly oddGaps: boolean
}

/** An edge off by more than this share of the pitch is another edge. */
const MAX_ODD_GAP = 0.5
/**
 * Maximum cost of an odd gap, in penalties. Below 1: a tooth off its place makes two odd gaps, and has to cost less than a missed and
 * an extra pulse. Above 1/2: an extra pulse in the middle of a gap makes two odd gaps as well.
 */
const MAX_ODD_GAP_COST = 0.75

/** Extra pulses in a row that may stand between two pulses of the ring. */
const MAX_EXTRA = 4
/** Pulses in a row that may be missed before the count is lost. */
const MAX_MISSED = 30
/** A distance this far from a whole number of pitches may be the next whole number. */
const UNCERTAIN = 0.25
/** Pitches between two pulses beyond which no pulse between them is called extra. */
const WIDEST_WITH_EXTRA = 3.5

/**
 * The most likely way in which recorded pulses are pulses of the ring, missed pulses and extra ones.
 *
 *     minimize Σ (Δt/P − Δs)²/(2σ²) + penalty·(missed + extra)   over all ways and phases, by dynamic programming
 *     with odd gaps: a term of less than half a pitch costs ¾ of a penalty at the most
 *
 * P is the usual period, σ the spread of a period as a share of it.
 *
 * Δs is what the ring has between the two pulses: a whole number of pitches and the errors of the gaps in between. The whole
 * stretch decides at once: a pulse is called extra only when leaving it out makes its neighbors right, and a ring whose errors
 * are known keeps the count in step, since a lost count would make every later gap wrong.
 *
 * @param timesS - Moments of the recorded pulses. [s]
 * @param defaultS - Usual period at each recorded pulse. [s, > 0]
 * @param from - First recorded pulse of the stretch
 * @param to - Last recorded pulse of the stretch
 * @param expected - Ring and spread
 * @returns The recorded pulses that belong to the ring, their numbers, and the phase of the ring
 * @see shortest path through a chain of states (R. Bellman, Dynamic Programming, 1957; from memory)
 * @example matchPulses(Float64Array.of(0, 1, 1.3, 2, 4, 5), new Float64Array(6).fill(1), 0, 5, { gapErrors: new Float64Array(1), spread: 0.01, penalty: 10, oddGaps: false }).pulses.join() // "0,1,3,4,5"
 */
export function matchPulses(
  timesS: Float64Array,
  defaultS: Float64Array,
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
  // Costs are kept for as many pulses as one looks back; where each way came from, for all: pulses back, and pitches × 8.
  const rows = MAX_EXTRA + 2
  const cost = new Float64Array(rows * turn)
  const came = new Uint8Array(n * turn)
  /** Takes the way to pulse j from the one so many pulses back, over so many pitches, wherever it is the cheapest. */
  const consider = (j: number, back: number, pitches: number, steps: number) => {
    const row = (j % rows) * turn
    const before = ((j - back) % rows) * turn
    const fixed = penalty * (back - 1 + (steps - 1))
    // The usual period is itself known to a share only: over many pitches that adds up.
    const weight = half / (1 + 0.2 * (steps - 1) * (steps - 1))
    const way = back | (steps << 3)
    let tooth = steps % turn
    for (let start = 0; start < turn; start++) {
      const error = pitches - steps - (offsets[tooth]! - offsets[start]!)
      const full = error * error * weight
      const deviation = full > maxOddCost && Math.abs(error) < MAX_ODD_GAP ? maxOddCost : full
      const total = cost[before + start]! + deviation + fixed
      if (total < cost[row + tooth]!) {
        cost[row + tooth] = total
        came[j * turn + tooth] = way
      }
      if (++tooth === turn) tooth = 0
    }
  }
  for (let j = 0; j < n; j++) {
    const row = (j % rows) * turn
    // Up to MAX_EXTRA pulses at the head may be extra. At an end that costs double: a missed pulse before the last would otherwise be
    // no dearer than calling the last one extra.
    cost.fill(j <= MAX_EXTRA ? 2 * j * penalty : Number.POSITIVE_INFINITY, row, row + turn)
    for (let back = 1; back <= MAX_EXTRA + 1 && back <= j; back++) {
      const i = j - back
      const pitches = (timesS[from + j]! - timesS[from + i]!) / defaultS[from + ((i + j) >> 1)]!
      if (back > 1 && pitches > WIDEST_WITH_EXTRA) break
      // The whole number below and the one above, where both may be meant.
      const nearest = Math.max(1, Math.min(MAX_MISSED + 1, Math.round(pitches)))
      const other =
        pitches > nearest + UNCERTAIN ? nearest + 1 : pitches < nearest - UNCERTAIN ? nearest - 1 : 0
      consider(j, back, pitches, nearest)
      if (other > 0 && other <= MAX_MISSED + 1) consider(j, back, pitches, other)
    }
  }
  let last = n - 1
  let tooth = 0
  let least = Number.POSITIVE_INFINITY
  for (let j = n - 1; j >= Math.max(0, n - 1 - MAX_EXTRA); j--) {
    for (let c = 0; c < turn; c++) {
      const total = cost[(j % rows) * turn + c]! + 2 * penalty * (n - 1 - j)
      if (total < least) {
        least = total
        last = j
        tooth = c
      }
    }
  }
  const pulses: number[] = []
  const steps: number[] = []
  for (let j = last; ; ) {
    const way = came[j * turn + tooth]!
    pulses.push(from + j)
    steps.push(way >> 3)
    if (way === 0) break
    j -= way & 7
    tooth = (tooth - ((way >> 3) % turn) + turn) % turn
  }
  const counts = new Int32Array(pulses.length)
  pulses.reverse()
  steps.reverse()
  for (let place = 1; place < counts.length; place++) counts[place] = counts[place - 1]! + steps[place]!
  return { pulses: Int32Array.from(pulses), counts, phase: tooth }
}
