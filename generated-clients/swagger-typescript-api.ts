import { Api } from './generated/swagger-typescript-api.js'
import { address, vehicle } from './vehicle.js'

const { v1 } = new Api({ baseUrl: address })
const { data } = await v1.checkVehicle(vehicle)
const refused = await v1.checkVehicle({ ...vehicle, paths: [] }).catch((answer) => answer)
console.log(JSON.stringify({ value: data.paths[0]?.indicatedPerTrue.value, code: refused.error.code }))
