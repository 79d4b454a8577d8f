import { DomainError } from '../errors.js'
import { digits } from '../measure/digits.js'

/** A load dump: the battery is disconnected while the generator charges it. */
export interface LoadDumpPulse {
  /** Open-circuit peak at the terminals, including the normal voltage [V]. */
  readonly peakV: number
  /** Voltage before and after the pulse [V]. */
  readonly baseV: number
  readonly sourceOhm: number
  /** Time from 10 % to 10 % of the rise above the base [s]. */
  readonly durationS: number
}

export interface ClampDuty {
  readonly peakCurrentA: number
  readonly peakPowerW: number
  readonly energyJ: number
}

/**
 * Current, power and energy of a voltage clamp in a load dump.
 *
 *     v(t) = U_A + (U_S − U_A)·e^(−t/τ),  τ = t_d/ln 10,  a = U_S − U_A,  b = U_C − U_A
 *     i₀ = (U_S − U_C)/Rᵢ,  E = U_C·τ/Rᵢ · (a − b − b·ln(a/b))
 *
 * U_A is the voltage before the pulse, U_S its peak, U_C that of the clamp, Rᵢ the resistance of the source, t_d the
 * duration (down to a tenth), v the voltage without a clamp, e the base of natural logarithms.
 *
 * The rise is short compared with the fall and neglected. The clamp voltage is assumed constant; that of a real clamp is a little
 * higher at its peak.
 *
 * @param pulse - Peak, base [V], source resistance [ohm], duration [s]
 * @param clampV - U_C, above the base. [V]
 * @returns Peak current [A], peak power [W], energy of one pulse [J]; all zero for a clamp above the peak
 * @throws {DomainError} `limits-crossed` for a clamp at or below the base
 * @see ISO 16750-2:2010, 4.6.4 (levels); derived: integral of the exponential fall
 * @example loadDumpClamp({ peakV: 101, baseV: 14, sourceOhm: 0.5, durationS: 0.4 }, 101).energyJ // 0 ± 0
 * @example loadDumpClamp({ peakV: 101, baseV: 14, sourceOhm: 0.5, durationS: 0.4 }, 36).peakCurrentA // 130 ± 1e-9
 */
export function loadDumpClamp(pulse: LoadDumpPulse, clampV: number): ClampDuty {
  const clampAboveV = clampV - pulse.baseV
  if (clampAboveV <= 0) {
    throw new DomainError(
      'limits-crossed',
      `clamp: expected more than the ${digits(pulse.baseV)} V of the running generator, got ${digits(clampV)} V; the clamp would conduct all the time`,
      { pointer: '/converter/clamp', min: pulse.baseV, value: clampV },
    )
  }
  const swingV = pulse.peakV - pulse.baseV
  if (clampAboveV >= swingV) return { peakCurrentA: 0, peakPowerW: 0, energyJ: 0 }
  const tauS = pulse.durationS / Math.LN10
  const peakCurrentA = (pulse.peakV - clampV) / pulse.sourceOhm
  const areaVs = tauS * (swingV - clampAboveV - clampAboveV * Math.log(swingV / clampAboveV))
  return { peakCurrentA, peakPowerW: peakCurrentA * clampV, energyJ: (clampV * areaVs) / pulse.sourceOhm }
}
