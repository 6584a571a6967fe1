#!/bin/sh
# Makes the recordings in this folder again. Needs ffmpeg (made with 5.1.9: libmp3lame, libvorbis, libopus, its own
# aac, alac and flac) and python3. Each holds clicks at known samples; crates/formats/tests/audio_times.rs looks for
# them there.
set -eu
cd "$(dirname "$0")"
source=$(mktemp -d)
trap 'rm -r "$source"' EXIT

python3 - "$source" <<'PYTHON'
import random, struct, sys, wave

def clicks(name, rate, frames, channels, places):
    chance = random.Random(3)
    with wave.open(f"{sys.argv[1]}/{name}", "wb") as out:
        out.setnchannels(channels)
        out.setsampwidth(2)
        out.setframerate(rate)
        for frame in range(frames):
            for channel in range(channels):
                sample = chance.randint(-8, 8)
                if frame in places:
                    sample = 26000 if channel == 0 else -26000
                out.writeframesraw(struct.pack("<h", sample))

clicks("mono.wav", 44100, 53000, 1, {5000, 47000})
clicks("stereo.wav", 48000, 50000, 2, {5000, 47000})
clicks("short.wav", 8000, 800, 1, {0, 333, 799})
clicks("fast.wav", 96000, 12000, 1, {5000})
clicks("six.wav", 8000, 800, 6, {0, 333, 799})
PYTHON

make() { # from, to, then options of the encoder
    from=$1 to=$2
    shift 2
    ffmpeg -v error -y -i "$source/$from.wav" -map_metadata -1 -fflags +bitexact -flags:a +bitexact "$@" "$to"
}
make mono mono.flac
make mono mono.mp3 -c:a libmp3lame -b:a 48k
make stereo vbr.mp3 -c:a libmp3lame -q:a 7
make mono untagged.mp3 -c:a libmp3lame -b:a 48k -write_xing 0 -id3v2_version 0
make mono mono.ogg -c:a libvorbis -q:a 0 -page_duration 150000
make stereo stereo.ogg -c:a libvorbis -q:a 3 -page_duration 150000
make mono flac.ogg -c:a flac -page_duration 150000
make mono mono.m4a -c:a aac -b:a 48k
make stereo stereo.m4a -c:a aac -b:a 64k
make mono unlisted.m4a -c:a aac -b:a 48k -use_editlist 0
make mono fragments.m4a -c:a aac -b:a 48k -movflags frag_keyframe+empty_moov+delay_moov -frag_duration 300000 -f mp4
make fast fast.m4a -c:a aac -b:a 96k
make mono bare.aac -c:a aac -b:a 48k
make short lossless.m4a -c:a alac
make short opus.opus -c:a libopus -b:a 16k
make short big.aiff
make short little.aifc -c:a pcm_s16le -f aiff
make short float.aifc -c:a pcm_f32be -f aiff
make short short.caf
make short long.wav -rf64 always
for coding in u8 s24le s32le f32le f64le alaw mulaw; do
    make short "$coding.wav" -c:a "pcm_$coding"
done
make six six.wav -c:a pcm_s16le
# Written to a pipe, so that the header could not be finished.
ffmpeg -v error -y -i "$source/short.wav" -f wav - >piped.wav
