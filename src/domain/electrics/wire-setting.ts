import { type Assumption, assumed } from '../measure/assumptions.js'
import { exact, type Figure, toleranceUncertainty, uncertain } from '../measure/figure.js'
import { sum } from '../measure/propagation.js'
import { ZERO_CELSIUS_K } from './conductor.js'
import { type HeatTransfer, heatTransferOf } from './still-air.js'

/** By American gauge, or by the area of the copper. */
export type WireSize = { readonly awg: number } | { readonly areaM2: Figure }

export interface WireRequest {
  readonly supplyV: Figure
  readonly currentA: Figure
  /** One way, from source to load. */
  readonly lengthM: Figure
  readonly size: WireSize
  /** A second wire of the same size, or the body. Left out: wire. */
  readonly returnPath?: 'wire' | 'body'
  readonly bodyResistanceOhm?: Figure
  /** Switch, fuse holder and connectors, all together. */
  readonly contactResistanceOhm?: Figure
  readonly sourceResistanceOhm?: Figure
  readonly ambientK?: Figure
  readonly insulation?: { readonly thicknessM?: Figure; readonly limitK?: Figure }
  readonly heatTransferWPerM2K?: Figure
  readonly allowedDropPercent?: number
  /** Rating of the fitted or planned fuse. */
  readonly fuseA?: number
}

/** Surroundings and limits of a wire, given or assumed. */
export interface WireSetting {
  readonly returnWires: 1 | 2
  readonly fixedOhm: Figure
  readonly ambientK: Figure
  readonly thicknessM: Figure
  readonly heatTransfer: HeatTransfer
  readonly limitK: Figure
  readonly sourceOhm: Figure
  readonly allowedDropPercent: number
}

/**
 * Surroundings and limits of a wire: what the request says, or what is assumed.
 *
 *     fixed resistance = body + contacts;  wires = 2, or 1 with the body as return path
 *
 * @param request - Resistances [ohm], surroundings [K], insulation [m, K], heat transfer [W/(m² K)], allowed drop [%], each if known
 * @param taken - Assumptions of the answer; gets those that are made
 * @returns The setting, with its uncertainties
 * @see common practice, no source; ISO 6722 (temperature class A), from memory
 * @example wireSetting({ supplyV: exact(12), currentA: exact(1), lengthM: exact(4), size: { awg: 18 } }, []).ambientK.value // 313.15 ± 1e-9
 */
export function wireSetting(request: WireRequest, taken: Assumption[]): WireSetting {
  const isBody = request.returnPath === 'body'
  const bodyOhm = isBody
    ? assumed(
        request.bodyResistanceOhm,
        uncertain(0.01, 'body: resistance of the return path', toleranceUncertainty(0.01, 0.01)),
        { field: '/bodyResistance', value: '0.01 ohm, from 0 to 0.02', standing: 'common-practice' },
        taken,
      )
    : exact(0)
  const contactsOhm = assumed(
    request.contactResistanceOhm,
    uncertain(0.01, 'contacts: resistance', toleranceUncertainty(0.01, 0.02)),
    { field: '/contactResistance', value: '0.01 ohm, from 0 to 0.03', standing: 'common-practice' },
    taken,
  )
  const ambientK = assumed(
    request.ambientK,
    uncertain(ZERO_CELSIUS_K + 40, 'surroundings: temperature', 20 / Math.sqrt(3)),
    { field: '/ambient', value: '40 °C, from 20 to 60', standing: 'common-practice' },
    taken,
  )
  const thicknessM = assumed(
    request.insulation?.thicknessM,
    uncertain(0.5e-3, 'insulation: thickness', toleranceUncertainty(0.25e-3, 0.3e-3)),
    { field: '/insulation/thickness', value: '0.5 mm, from 0.25 to 0.8', standing: 'common-practice' },
    taken,
  )
  const limitK = assumed(
    request.insulation?.limitK,
    exact(ZERO_CELSIUS_K + 85),
    { field: '/insulation/limit', value: '85 °C, temperature class A', standing: 'from-memory' },
    taken,
  )
  const heatTransfer = heatTransferOf(request.heatTransferWPerM2K, taken)
  const sourceOhm = assumed(
    request.sourceResistanceOhm,
    uncertain(0.02, 'source: internal resistance', toleranceUncertainty(0.015, 0.03)),
    { field: '/sourceResistance', value: '0.02 ohm, from 0.005 to 0.05', standing: 'common-practice' },
    taken,
  )
  const allowedDropPercent = assumed(
    request.allowedDropPercent,
    3,
    { field: '/allowedDropPercent', value: '3 %', standing: 'common-practice' },
    taken,
  )
  return {
    returnWires: isBody ? 1 : 2,
    fixedOhm: sum(bodyOhm, contactsOhm),
    ambientK,
    thicknessM,
    heatTransfer,
    limitK,
    sourceOhm,
    allowedDropPercent,
  }
}
