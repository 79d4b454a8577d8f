import { checkVehicle } from './generated/orval.js'
import { address, vehicle } from './vehicle.js'

// The base address is part of what orval generates; here it is that of the argument.
const { fetch } = globalThis
globalThis.fetch = (url, options) => fetch(new URL(String(url), address), options)
const { data } = await checkVehicle(vehicle)
const refused = await checkVehicle({ ...vehicle, paths: [] })
console.log(
  JSON.stringify({
    value: 'paths' in data ? data.paths[0]?.indicatedPerTrue.value : undefined,
    code: 'code' in refused.data ? refused.data.code : undefined,
  }),
)
