import type { Store } from '../store.js'
import { accountStore } from './accounts.js'
import { calibrationStore } from './calibrations.js'
import { fitStore } from './fits.js'
import { instanceStore } from './instance.js'
import { keyStore } from './keys.js'
import type { PartTexts } from './part-texts.js'
import { partStore } from './parts.js'
import type { Session } from './session.js'
import { storedResponseStore } from './stored-responses.js'
import { tireSizeStore } from './tire-sizes.js'
import { vehicleStore } from './vehicles.js'

/** Every subject of the store that is the same for all databases. */
export const subjects = (session: Session, texts: PartTexts): Omit<Store, 'health' | 'close'> => ({
  instance: instanceStore(session),
  accounts: accountStore(session),
  keys: keyStore(session),
  storedResponses: storedResponseStore(session),
  vehicles: vehicleStore(session),
  calibrations: calibrationStore(session),
  parts: partStore(session, texts),
  fits: fitStore(session),
  tireSizes: tireSizeStore(session),
})
