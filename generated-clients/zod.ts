import { zVehicleCheckAnswer, zVehicleProfile } from './generated/hey-api/zod.gen.js'
import { address, vehicle } from './vehicle.js'

const response = await fetch(`${address}/v1/vehicle-checks`, {
  method: 'POST',
  headers: { 'content-type': 'application/json' },
  body: JSON.stringify(zVehicleProfile.parse(vehicle)),
})
const answer = zVehicleCheckAnswer.parse(await response.json())
const refused = zVehicleProfile.safeParse({ ...vehicle, paths: [] })
console.log(
  JSON.stringify({
    value: answer.paths[0]?.indicatedPerTrue.value,
    code: refused.success ? undefined : 'invalid-request',
  }),
)
