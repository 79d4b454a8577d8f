<?php
// Checks the profiles of a folder, one a .json file, with one request for up to 1000 of them:
//   php check-folder.php examples/vehicles
// WHEEL_TO_DIAL names the address of the service (http://127.0.0.1:8080 if left out).
// Exit status: 0 every car conforms to its rule, 1 some do not or are not proven, 2 some not checked.

require __DIR__ . '/service.php';

const BATCH = 1000;

/** The profile of a file, with its objects as objects: an empty array would become []. */
function profileOf(string $file): object
{
    $profile = json_decode(file_get_contents($file));
    return is_object($profile) ? $profile : throw new UnexpectedValueException("$file: not a JSON object");
}

/** The verdicts of a checked vehicle. */
function verdictsOf(array $result): array
{
    $verdicts = array_merge(...array_column($result['paths'], 'verdicts'));
    return array_column($verdicts, 'result');
}

/** Prints a line for each file and returns the exit status. */
function check(array $files): int
{
    $vehicles = array_map(fn (string $file) => [
        'ref' => basename($file),
        'vehicle' => profileOf($file),
    ], $files);
    $status = 0;
    foreach (post('/v1/vehicle-checks/batch', ['vehicles' => $vehicles])['results'] as $answer) {
        if ($answer['ok']) {
            $verdicts = verdictsOf($answer['result']);
            echo "{$answer['ref']}: " . (implode(', ', $verdicts) ?: 'not judged') . "\n";
            $status = max($status, array_unique($verdicts) === ['conforms'] ? 0 : 1);
        } else {
            foreach (faultyFields($answer['problem']) as [$pointer, $detail]) {
                echo "{$answer['ref']}: $pointer: $detail\n";
            }
            $status = 2;
        }
    }
    return $status;
}

$files = $argc === 2 ? glob("$argv[1]/*.json") : [];
if ($files === []) {
    fwrite(STDERR, "usage: php check-folder.php FOLDER, which holds one profile a .json file\n");
    exit(2);
}
try {
    exit(max(array_map('check', array_chunk($files, BATCH))));
} catch (NoAnswer | Problem | UnexpectedValueException $error) {
    fwrite(STDERR, $error->getMessage() . "\n");
    exit(2);
}
