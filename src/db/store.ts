import type { AccountStore } from './store/accounts.js'
import type { CalibrationStore } from './store/calibrations.js'
import type { FitStore } from './store/fits.js'
import type { HealthStore } from './store/health.js'
import type { InstanceStore } from './store/instance.js'
import type { KeyStore } from './store/keys.js'
import type { PartStore } from './store/parts.js'
import type { StoredResponseStore } from './store/stored-responses.js'
import type { TireSizeStore } from './store/tire-sizes.js'
import type { VehicleStore } from './store/vehicles.js'

/** The time, in milliseconds since 1970 UTC. */
export type Clock = () => number

/**
 * The store. Each method is one unit of work: it happens whole or not at all, and when its promise
 * resolves, what it changed survives a crash and a power cut. Nothing here knows SQL; a second implementation must
 * pass the tests in `tests/db/store`.
 */
export interface Store {
  readonly instance: InstanceStore
  readonly accounts: AccountStore
  readonly keys: KeyStore
  readonly storedResponses: StoredResponseStore
  readonly vehicles: VehicleStore
  readonly calibrations: CalibrationStore
  readonly parts: PartStore
  readonly fits: FitStore
  readonly tireSizes: TireSizeStore
  readonly health: HealthStore
  /** Commits what is in flight and lets go of the file. */
  close(): Promise<void>
}

export type { Account, AccountStore } from './store/accounts.js'
export type { Calibration, CalibrationInput, CalibrationStore } from './store/calibrations.js'
export type { Author, Page, PageRequest, Versions } from './store/common.js'
export type { FitGroup, FitInput, FitStore, PartFits } from './store/fits.js'
export type { HealthStore, StoreFigures } from './store/health.js'
export type { InstanceStore } from './store/instance.js'
export type { Caller, IssuedKey, KeyRecord, KeyStore, KeyVerdict, Role } from './store/keys.js'
export type { NearParts, PartInput, PartRevision, PartStore, RemedyPart } from './store/parts.js'
export type {
  ImportItem,
  ImportOptions,
  ImportOutcome,
  NotChanged,
  Shared,
  SharedAuthor,
} from './store/shared.js'
export type { SaveResponse, StoredResponse, StoredResponseStore } from './store/stored-responses.js'
export type { TireSizeInput, TireSizeStore } from './store/tire-sizes.js'
export type {
  Change as VehicleChange,
  Revision as VehicleRevision,
  Vehicle,
  VehicleInput,
  VehicleStore,
} from './store/vehicles.js'
