import { DomainError } from '../errors.js'
import { type Assumption, assumed } from '../measure/assumptions.js'
import { digits } from '../measure/digits.js'
import { COVERAGE_FACTOR, exact, type Figure, uncertain } from '../measure/figure.js'
import { product, quotient, scaled, sum } from '../measure/propagation.js'
import type { SourceId } from '../measure/sources.js'

export interface Converter {
  readonly kind: 'step-down' | 'linear'
  readonly outputV: Figure
  /** Efficiency of a step-down converter, and its uncertainty, 95 %. [%] */
  readonly efficiencyPercent?: number
  readonly efficiencyPlusMinusPercent?: number
  /** Quiescent current, not included in the efficiency. */
  readonly ownCurrentA?: Figure
  /** Minimum difference between input and output. */
  readonly dropoutV?: Figure
  /** Ratings of the input, from its data sheet [V]. */
  readonly minInputV?: number
  readonly maxInputV?: number
  /** Peak rating for the duration of a load dump [V]. */
  readonly peakInputV?: number
  /** Rating for reversed polarity [V]. */
  readonly reversedInputV?: number
  /** Clamping voltage of a suppressor at the input in a load dump [V], and its rated energy [J]. */
  readonly clampV?: number
  readonly clampEnergyJ?: number
}

/**
 * Input current of a step-down converter.
 *
 *     Iᵢ = V_o·I_o / (η·Vᵢ)
 *
 * @param outputV - V_o. [V]
 * @param outputA - I_o. [A]
 * @param efficiency - η, as a fraction
 * @param inputV - Vᵢ, above V_o. [V]
 * @returns Iᵢ. [A]
 * @throws {DomainError} `not-finite`
 * @see derived: power balance of the converter
 * @example stepDownInputA(exact(5), exact(0.5), exact(0.85), exact(12)).value // 0.245098 ± 1e-6
 */
export function stepDownInputA(outputV: Figure, outputA: Figure, efficiency: Figure, inputV: Figure): Figure {
  return quotient(product(outputV, outputA), product(efficiency, inputV))
}

export interface Feed {
  readonly currentA: (inputV: Figure) => Figure
  readonly heatW: (inputV: Figure) => Figure
  /** Minimum input at which the output is in regulation. */
  readonly needsV: number
}

/**
 * Refuses an efficiency of a linear regulator.
 *
 *     η = V_o/Vᵢ
 *
 * η is the efficiency, V_o the output of the regulator, Vᵢ its input: the voltages leave nothing to give.
 *
 * @param converter - Converter with its ratings [V]
 * @throws {DomainError} `fields-exclude-each-other`
 * @see derived: input and output carry the same current
 * @example checkEfficiency({ kind: 'linear', outputV: exact(5), efficiencyPercent: 85 }) // throws fields-exclude-each-other
 */
export function checkEfficiency(converter: Converter): void {
  if (converter.kind === 'step-down' || converter.efficiencyPercent === undefined) return
  throw new DomainError(
    'fields-exclude-each-other',
    'efficiencyPercent: follows from the voltages for a linear regulator; leave it out',
    { pointer: '/converter/efficiencyPercent' },
  )
}

function efficiencyOf({ efficiencyPercent, efficiencyPlusMinusPercent = 0 }: Converter): Figure | undefined {
  if (efficiencyPercent === undefined) return undefined
  return uncertain(
    efficiencyPercent / 100,
    'converter: efficiency',
    efficiencyPlusMinusPercent / 100 / COVERAGE_FACTOR,
  )
}

/**
 * Input current and heat of a converter, as functions of its input voltage.
 *
 *     Iᵢ = V_o·I_o/(η·Vᵢ) + I_q,  heat V_o·I_o·(1/η − 1) + Vᵢ·I_q   step-down
 *     Iᵢ = I_o + I_q,  heat (Vᵢ − V_o)·I_o + Vᵢ·I_q                 linear
 *
 * Vᵢ and Iᵢ are voltage and current of the input, V_o and I_o those of the output, η the efficiency, I_q the converter's own current.
 *
 * @param converter - Converter; none takes no current
 * @param outputA - I_o. [A]
 * @param taken - Assumptions of the answer; gets those that are made
 * @param sources - Sources of the answer
 * @returns Current [A] and heat [W] at an input voltage, and the minimum input voltage [V]
 * @see derived: power balance of the converter; dropout and efficiency left out: common practice
 * @example feedOf({ kind: 'linear', outputV: exact(5) }, exact(0.5), [], []).heatW(exact(16)).value // 5.5 ± 1e-12
 */
export function feedOf(
  converter: Converter | undefined,
  outputA: Figure,
  taken: Assumption[],
  sources: SourceId[],
): Feed {
  if (converter === undefined) return { currentA: () => exact(0), heatW: () => exact(0), needsV: 0 }
  sources.push('converter-balance')
  const { outputV } = converter
  const ownA = converter.ownCurrentA ?? exact(0)
  const defaultDropoutV = converter.kind === 'linear' ? 2 : 1
  const dropoutV = assumed(
    converter.dropoutV,
    exact(defaultDropoutV),
    { field: '/converter/dropout', value: `${digits(defaultDropoutV)} V`, standing: 'common-practice' },
    taken,
  )
  const needsV = Math.max(outputV.value + dropoutV.value, converter.minInputV ?? 0)
  if (converter.kind === 'linear') {
    return {
      needsV,
      currentA: () => sum(outputA, ownA),
      heatW: (inputV) => sum(product(sum(inputV, scaled(outputV, -1)), outputA), product(inputV, ownA)),
    }
  }
  const efficiency = assumed(
    efficiencyOf(converter),
    uncertain(0.85, 'converter: efficiency', 0.05 / Math.sqrt(3)),
    { field: '/converter/efficiencyPercent', value: '85 %, from 80 to 90', standing: 'common-practice' },
    taken,
  )
  const outputW = product(outputV, outputA)
  return {
    needsV,
    currentA: (inputV) => sum(stepDownInputA(outputV, outputA, efficiency, inputV), ownA),
    heatW: (inputV) => sum(quotient(outputW, efficiency), scaled(outputW, -1), product(inputV, ownA)),
  }
}
