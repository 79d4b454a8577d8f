import { Type } from '@sinclair/typebox'
import { listOf, named, ref, shape } from './named-shapes.js'
import { choice, count } from './plain-values.js'
import { Id, IdInPath, Instant, Next, PAGE_QUERY, Version } from './stored.js'
import { VehicleProfile } from './vehicles.js'

const { reference, make, model } = VehicleProfile.properties

export const SavedVehicle = shape('SavedVehicle', 'A stored vehicle: its profile as given.', {
  id: Id,
  version: Version,
  createdAt: Instant('When it was created'),
  changedAt: Instant('When this version was made'),
  ...VehicleProfile.properties,
})

export const SavedVehicleList = shape('SavedVehicleList', 'A page of vehicles.', {
  vehicles: listOf(SavedVehicle, 200, 'In the order of creation.'),
  next: Next,
})

const optional = (description: string) => Type.Optional(Type.Unsafe<unknown>({ description }))

/** The result is validated as a whole profile: a patch alone cannot be. */
export const VehiclePatch = named(
  'VehiclePatch',
  Type.Object(
    Object.fromEntries(
      Object.keys(VehicleProfile.properties).map((field) => [
        field,
        optional(`Change of ${field}; null takes it away where it is optional.`),
      ]),
    ),
    {
      additionalProperties: false,
      minProperties: 1,
      description:
        'A merge patch (RFC 7396): null takes a field away, an object is merged, a list or value replaces. The result must be a whole profile. A tire is known in one way: to change the way, take the old field away, for example { "size": null, "rollingCircumference": { "mm": 1985 } }.',
      examples: [{ notes: 'Driven gear changed to 19 teeth.' }, { tires: { rear: { size: '185/70R13' } } }],
    },
  ),
)

export const VehicleListQuery = Type.Object(
  {
    ...PAGE_QUERY,
    make: Type.Optional({ ...make, description: 'Only of this make, in any case.' }),
    model: Type.Optional({ ...model, description: 'Only of this model, in any case.' }),
    reference: Type.Optional({ ...reference, description: 'Only the one with this reference.' }),
  },
  { additionalProperties: false },
)

export const VehicleParams = Type.Object({ id: IdInPath }, { additionalProperties: false })

export const ReferenceParams = Type.Object(
  {
    reference: Type.String({
      minLength: 1,
      maxLength: 100,
      description: 'Your own reference, for example the number of a job ticket; unique in the account.',
    }),
  },
  { additionalProperties: false },
)

const change = {
  version: Version,
  change: choice(['created', 'replaced', 'deleted'], { description: 'What was done.' }),
  at: Instant('When'),
  key: Type.Object(
    { id: Id, label: Type.String({ description: 'Label of the key.' }) },
    { additionalProperties: false, description: 'The key it was done with.' },
  ),
}

export const VehicleChangeList = shape('VehicleChangeList', 'A page of the changes of a vehicle.', {
  revisions: Type.Array(
    Type.Object(change, { additionalProperties: false, description: 'A change of the vehicle.' }),
    { maxItems: 200, description: 'Newest first.' },
  ),
  next: Next,
})

export const VehicleRevision = shape(
  'VehicleRevision',
  'A change, with the vehicle as it was after it; without vehicle if it was deleted.',
  {
    ...change,
    vehicle: Type.Optional(ref(SavedVehicle, 'The vehicle after the change; absent when it was deleted.')),
  },
)

export const RevisionListQuery = Type.Object(PAGE_QUERY, { additionalProperties: false })

export const RevisionParams = Type.Object(
  {
    id: IdInPath,
    version: count({ minimum: 1, maximum: Number.MAX_SAFE_INTEGER, description: 'Version of the vehicle.' }),
  },
  { additionalProperties: false },
)
