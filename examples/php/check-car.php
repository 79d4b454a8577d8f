<?php
// Checks one car from the fields of a form, where every value is text, as in $_POST:
//   php check-car.php size=175/70R13 ring=37 pinion=9 driving=6 driven=20 constant=1000 unit=mph
// WHEEL_TO_DIAL names the address of the service (http://127.0.0.1:8080 if left out).
// Exit status: 0 the car conforms to its rule, 1 it does not or is not proven, 2 not checked.

require __DIR__ . '/service.php';

const FIELDS = ['size', 'ring', 'pinion', 'driving', 'driven', 'constant', 'unit'];
// The field of the form that each field of the profile comes from.
const FIELD_OF = [
    '#/tires/front/size' => 'size',
    '#/tires/rear/size' => 'size',
    '#/paths/0/stages/0/ring' => 'ring',
    '#/paths/0/stages/0/pinion' => 'pinion',
    '#/paths/0/stages/1/teeth/driving' => 'driving',
    '#/paths/0/stages/1/teeth/driven' => 'driven',
    '#/paths/0/head/constant/perMile' => 'constant',
    '#/paths/0/head/constant/perKm' => 'constant',
    '#/paths/0/head/unit' => 'unit',
];

/** Text of a field that is not what the field asks for. */
class FormError extends Exception
{
}

/**
 * The number of a field. The service takes JSON numbers, not text, and coerces nothing.
 * A comma is refused, not guessed: 1,000 is a thousand to one visitor and one to another; (float) "14,5" would be 14.
 */
function number(array $form, string $name): int|float
{
    $text = trim($form[$name]);
    if (preg_match('/^[0-9]+$/', $text)) {
        return (int) $text;
    }
    if (preg_match('/^[0-9]+\.[0-9]+$/', $text)) {
        return (float) $text;
    }
    throw new FormError("$name: " . ($text === '' ? 'nothing' : $text) . ' is not a number; write it like 14 or 14.5, with a point');
}

/** The vehicle profile of the form. */
function profile(array $form): array
{
    $tire = ['size' => trim($form['size'])];
    $constant = $form['unit'] === 'mph' ? 'perMile' : 'perKm';
    return [
        'name' => "A visitor's car",
        'rule' => 'un-r39',
        'tires' => ['front' => $tire, 'rear' => $tire],
        'paths' => [[
            'name' => 'speedometer',
            'axle' => 'rear',
            'stages' => [
                ['kind' => 'final-drive', 'ring' => number($form, 'ring'), 'pinion' => number($form, 'pinion')],
                ['kind' => 'gear-pair', 'teeth' => ['driving' => number($form, 'driving'), 'driven' => number($form, 'driven')]],
            ],
            'head' => ['input' => 'turns', 'constant' => [$constant => number($form, 'constant')], 'unit' => $form['unit']],
        ]],
    ];
}

/** Prints the answer and returns the exit status. */
function show(array $answer): int
{
    $path = $answer['paths'][0];
    $error = 100 * ($path['indicatedPerTrue']['value'] - 1);
    $uncertainty = 100 * $path['indicatedPerTrue']['plusMinus'];
    printf("%s-reads by %.1f %% ± %.1f %%\n", $error < 0 ? 'under' : 'over', abs($error), $uncertainty);
    $status = 0;
    foreach ($path['verdicts'] as $verdict) {
        echo "{$verdict['rule']}: {$verdict['result']}\n";
        if ($verdict['result'] !== 'conforms') {
            $status = 1;
        }
    }
    foreach ($answer['findings'] as $finding) {
        echo "- {$finding['text']}\n";
    }
    return $status;
}

$form = [];
foreach (array_slice($argv, 1) as $argument) {
    [$name, $value] = explode('=', $argument, 2) + [1 => ''];
    $form[$name] = $value;
}
if (array_diff(FIELDS, array_keys($form)) !== [] || array_diff(array_keys($form), FIELDS) !== []) {
    fwrite(STDERR, 'usage: php check-car.php ' . implode(' ', array_map(fn ($name) => "$name=...", FIELDS)) . "\n");
    exit(2);
}
try {
    exit(show(post('/v1/vehicle-checks', profile($form))));
} catch (FormError | NoAnswer $error) {
    fwrite(STDERR, $error->getMessage() . "\n");
} catch (Problem $problem) {
    foreach ($problem->fields as [$pointer, $detail]) {
        fwrite(STDERR, (FIELD_OF[$pointer] ?? $pointer) . ": $detail\n");
    }
}
exit(2);
